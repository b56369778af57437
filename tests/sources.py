"""The product's modules, parsed once for all tests that read them."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import auditor

ROOT = Path(auditor.__file__).parent


@cache
def modules() -> dict[Path, ast.Module]:
    """Each module by its path; whoever reads one leaves it as it is."""
    return {path: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(ROOT.rglob("*.py"))}


@cache
def nodes(path: Path) -> list[ast.AST]:
    """Every node of a module."""
    return list(ast.walk(modules()[path]))
