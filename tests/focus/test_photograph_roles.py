"""No photograph is scored on that was learned from."""

from __future__ import annotations

import re
from importlib import resources
from pathlib import Path

from benchmarks.photograph_roles import Role, of_role
from benchmarks.second_simulator.pieces import photographs_of
from tests.beside import PHOTOGRAPHS, needs_photographs

ROLES: tuple[Role, ...] = ("train", "calibrate", "score")


def test_every_photograph_has_one_role() -> None:
    names = [f"photograph {number:03d}" for number in range(153)]
    of_each = [of_role(names, role) for role in ROLES]
    assert sorted(name for of in of_each for name in of) == names
    assert [len(of) for of in of_each] == [112, 10, 31]


def test_the_second_simulator_takes_what_training_leaves(tmp_path: Path) -> None:
    for number in range(40):
        (tmp_path / f"{number:02d}.webp").touch()
    names = [path.stem for path in tmp_path.iterdir()]
    scored = {path.stem for path in photographs_of(tmp_path, "score")}
    assert len(scored) == 8
    assert not scored & {*of_role(names, "train"), *of_role(names, "calibrate")}


@needs_photographs
def test_the_weights_were_not_trained_on_what_is_scored() -> None:
    """By the list of photographs that comes with them."""
    credits = (resources.files("auditor.focus") / "blur_credits.md").read_text(encoding="utf-8")
    # Names are broken at hyphens, and begin after the last colon.
    used = set(re.split(r"[,.]\s*", credits.rpartition(":")[2].replace("-\n", "-")))
    scored = {path.stem for path in photographs_of(PHOTOGRAPHS, "score")}
    assert len(used & {path.stem for path in PHOTOGRAPHS.iterdir()}) > 100
    assert not scored & used
