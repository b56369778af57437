"""The Python that the documentation shows runs as it stands, on the sample trip."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from contextlib import chdir
from pathlib import Path
from textwrap import dedent

import pytest

DOCS = Path(__file__).parents[2] / "docs"
FENCED = re.compile(r"^```python\n(.*?)^```", re.DOTALL | re.MULTILINE)
INDENTED = re.compile(r"From Python:\n\n((?:(?: {4}.*)?\n)+)")


def examples(name: str) -> list[str]:
    text = (DOCS / name).read_text(encoding="utf-8")
    return FENCED.findall(text) + [dedent(block) for block in INDENTED.findall(text)]


@pytest.mark.parametrize(("name", "printed"), [("logbook.md", "blur_px"), ("keepers.md", r"^88 \d+ \d+ \{")])
def test_it_runs(
    name: str,
    printed: str,
    tmp_path: Path,
    measured_sample: Callable[[Path], Path],
    capsys: pytest.CaptureFixture[str],
) -> None:
    logbook = measured_sample(tmp_path)
    shutil.copytree(logbook.parent, tmp_path / "build", ignore=shutil.ignore_patterns("build"))
    (code,) = examples(name)
    with chdir(tmp_path):
        exec(compile(code, name, "exec"), {})
    assert re.search(printed, capsys.readouterr().out)
