"""Imports run one way only; pure packages stay pure."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from graphlib import CycleError, TopologicalSorter
from importlib.metadata import packages_distributions
from pathlib import Path

from tests.sources import ROOT, modules, nodes

# From the top down. A package may import from its own layer's own package and from any layer below.
LAYERS = [
    {"cli"},
    {"demo"},  # the invented trip stands beside the product: nothing but the command line knows it
    {"desk"},
    {"report", "keepers", "jobs"},
    {"planning"},  # the report puts plans into words
    {"analysis", "derive"},
    {"frames"},
    {"readers", "store"},
    {"optics", "focus", "statistics"},
    {"settings"},
    {"records", "errors"},
    {"words", "file_names", "serials"},
]
PURE = {"optics", "focus", "statistics"}
PURE_MAY_IMPORT = {
    "json",  # the calibration beside the weights
    "onnxruntime",  # runs the network
    "zlib",  # packs a spectrum: bytes in, bytes out
    "scipy",
    "importlib",  # the trained weights lie in the package
    "__future__",
    "collections",
    "dataclasses",
    "enum",
    "functools",
    "itertools",
    "math",
    "numpy",
    "statistics",
    "typing",
}


def rank(package: str) -> int:
    return next(number for number, layer in enumerate(LAYERS) if package in layer)


def package_of(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imports() -> list[tuple[Path, str]]:
    """Every import in the product, wherever it stands in a file."""
    found = []
    for path in modules():
        for node in nodes(path):
            if isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{path}: imports here are absolute"
                found += [(path, f"{node.module}.{alias.name}") for alias in node.names]
            elif isinstance(node, ast.Import):
                found += [(path, alias.name) for alias in node.names]
    return found


def inner_imports() -> list[tuple[str, str, Path]]:
    return [
        (package_of(path), name.split(".")[1], path)
        for path, name in imports()
        if name.startswith("auditor.") and not name.startswith("auditor.__") and path != ROOT / "__init__.py"
    ]


def test_no_arrow_runs_back() -> None:
    arrows = inner_imports()
    assert len(arrows) > 50
    wrong = [
        f"{path.relative_to(ROOT)} imports {target}"
        for package, target, path in arrows
        if package != target and rank(package) >= rank(target)
    ]
    assert wrong == []


def test_readers_and_store_do_not_know_each_other() -> None:
    pairs = {(package, target) for package, target, _ in inner_imports()}
    assert ("readers", "store") not in pairs
    assert ("store", "readers") not in pairs


def test_pure_packages_take_numbers_and_arrays_only() -> None:
    wrong = [
        f"{path.relative_to(ROOT)} imports {name}"
        for path, name in imports()
        if package_of(path) in PURE
        and name.split(".")[0] not in PURE_MAY_IMPORT
        and not name.startswith(tuple(f"auditor.{package}" for package in PURE))
    ]
    assert wrong == []


def test_every_package_has_a_layer() -> None:
    for path in ROOT.iterdir():
        if path.suffix == ".py" or (path / "__init__.py").exists():
            assert path.name == "__init__.py" or rank(path.name.removesuffix(".py")) >= 0


def modules_imported() -> dict[str, set[str]]:
    """Module -> modules of the product that it imports, also inside functions; not for types alone."""
    names = {".".join(path.relative_to(ROOT.parent).with_suffix("").parts): path for path in modules()}
    known = {name.removesuffix(".__init__") for name in names}
    graph: dict[str, set[str]] = {}
    for name, path in names.items():
        for_types = {
            id(inside)
            for node in nodes(path)
            if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
            for statement in node.body
            for inside in ast.walk(statement)
        }
        wanted = {
            f"{node.module}.{alias.name}" if f"{node.module}.{alias.name}" in known else str(node.module)
            for node in nodes(path)
            if isinstance(node, ast.ImportFrom) and id(node) not in for_types
            for alias in node.names
        }
        graph[name.removesuffix(".__init__")] = (wanted & known) - {name.removesuffix(".__init__")}
    return graph


def test_no_module_imports_itself_through_others() -> None:
    graph = modules_imported()
    assert sum(map(len, graph.values())) > 300
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        raise AssertionError(" -> ".join(error.args[1])) from None


SQL = re.compile(
    r"\bSELECT\s+.+\sFROM\s|\bINSERT\s+(OR\s+\w+\s+)?INTO\s|\bUPDATE\s+\w+\s+SET\s|\bDELETE\s+FROM\s"
    r"|\bPRAGMA\s+\w|\b(CREATE|DROP|ALTER)\s+(TEMP\s+)?(TABLE|VIEW|INDEX)\s|\bIS NOT NULL\b|\bORDER BY\s",
    re.DOTALL,
)


def sql_texts(path: Path) -> list[int]:
    """Lines on which a text in this module holds SQL; docstrings may speak of it."""
    loose = {id(node.value) for node in nodes(path) if isinstance(node, ast.Expr)}
    return [
        node.lineno
        for node in nodes(path)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and id(node) not in loose
        and SQL.search(node.value)
    ]


def test_sql_stands_in_store_alone() -> None:
    holders = {path.relative_to(ROOT): sql_texts(path) for path in modules()}
    in_store = [path for path, lines in holders.items() if lines and path.parts[0] == "store"]
    assert len(in_store) > 15  # or the pattern finds nothing at all
    assert {path: lines for path, lines in holders.items() if lines and path.parts[0] != "store"} == {}


def test_only_store_speaks_to_the_database() -> None:
    asks = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in modules()
        if package_of(path) != "store"
        for node in nodes(path)
        if isinstance(node, ast.Attribute)
        and node.attr in ("execute", "execute_many", "executemany", "query")
    ]
    assert asks == []


def test_every_package_that_is_imported_is_asked_for() -> None:
    """And each that is asked for is imported: what is left behind is disk space for nothing."""
    project = tomllib.loads((ROOT.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    wanted = [
        *project["dependencies"],
        *extras["cluster"],
        *extras["pandas"],
        *extras["parquet"],
        *extras["raw"],
    ]
    asked = {re.split(r"[<>=]", name)[0].lower().replace("_", "-") for name in wanted}
    distributions = packages_distributions()
    tops = {name.split(".")[0] for _path, name in imports()} - set(sys.stdlib_module_names) - {"auditor"}
    used = {distributions[top][0].lower().replace("_", "-") for top in tops}
    assert used - {"markupsafe"} == asked  # jinja2 brings its own Markup
