"""Runs killed (SIGKILL) at random moments: what the next run ends with is what one undisturbed run makes."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faults.killing import Outcome, killed_and_finished, undisturbed
from tests.share import cases


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Outcome, list[float]]:
    outcome, took_s = undisturbed(tmp_path_factory.mktemp("whole"))
    assert len(outcome.frames) == 13
    assert outcome.handed_over
    return outcome, took_s


@pytest.mark.long
@pytest.mark.parametrize("seed", range(cases(200, share=1)))
def test_a_killed_run_loses_nothing(whole: tuple[Outcome, list[float]], tmp_path: Path, seed: int) -> None:
    outcome, took_s = whole
    assert killed_and_finished(tmp_path, seed, took_s) == outcome
