"""Public functions say in numpydoc sections what they take, give and refuse."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from typing import NamedTuple

import pytest

from tests.sources import ROOT, modules

COMPLETE = ("optics", "focus", "statistics")
"""Packages whose every public function has all of its sections."""
LEAST_SHARE = 0.5
"""Of all public functions with arguments. It only ever rises."""
SAYS_ENOUGH = {"self", "cls", "logbook", "settings"}
"""Arguments whose type says what they are."""


class Public(NamedTuple):
    """A public function that takes arguments."""

    package: str
    place: str
    node: ast.FunctionDef
    arguments: list[str]


def functions() -> Iterator[Public]:
    for path, tree in modules().items():
        inside = path.relative_to(ROOT)
        classes = [each for each in tree.body if isinstance(each, ast.ClassDef)]
        bodies = [tree.body, *(each.body for each in classes if not each.name.startswith("_"))]
        for body in bodies:
            for node in body:
                if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                    named = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
                    arguments = [each.arg for each in named if each.arg not in SAYS_ENOUGH]
                    if arguments:
                        yield Public(inside.parts[0], f"{inside}:{node.name}", node, arguments)


def sections(node: ast.FunctionDef) -> dict[str, str]:
    """The text of each section by its name."""
    parts = re.split(r"^(\w+)\n-{3,}\n", ast.get_docstring(node) or "", flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def missing(public: Public) -> list[str]:
    """What its docstring does not say."""
    told = sections(public.node)
    described = set(re.findall(r"\w+", " ".join(re.findall(r"^\S.*$", told.get("Parameters", ""), re.M))))
    lacking = [name for name in public.arguments if name not in described]
    returns = public.node.returns and ast.unparse(public.node.returns)
    if returns not in (None, "None") and not {"Returns", "Yields"} & set(told):
        lacking.append("Returns")
    raised = any(isinstance(each, ast.Raise) and each.exc is not None for each in ast.walk(public.node))
    return lacking + (["Raises"] if raised and "Raises" not in told else [])


@pytest.mark.parametrize("package", COMPLETE)
def test_a_complete_package_has_every_section(package: str) -> None:
    public = [each for each in functions() if each.package == package]
    assert len(public) > 10
    assert {each.place: lacking for each in public if (lacking := missing(each))} == {}


def test_the_share_of_functions_with_all_sections() -> None:
    public = list(functions())
    complete = sum(not missing(each) for each in public)
    assert complete / len(public) >= LEAST_SHARE, f"{complete} of {len(public)}"


def test_no_docstring_names_an_argument_that_is_none() -> None:
    """A section that outlived its argument misleads."""
    wrong = {}
    for public in functions():
        args = public.node.args
        has = {each.arg for each in (*args.posonlyargs, *args.args, *args.kwonlyargs)}
        has |= {each.arg for each in (args.vararg, args.kwarg) if each is not None}
        heads = re.findall(r"^\S.*$", sections(public.node).get("Parameters", ""), re.M)
        named = {name for head in heads for name in re.findall(r"\w+", head.partition(":")[0])}
        if strange := named - has:
            wrong[public.place] = sorted(strange)
    assert wrong == {}
