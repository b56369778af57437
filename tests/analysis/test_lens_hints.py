"""A lens that files call otherwise from some day on: asked about, told as one once that is said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from auditor.analysis.hint_kinds import LensHint
from auditor.analysis.hints import hints
from auditor.derive.declaring import declare, undo
from auditor.jobs.scan import scan
from auditor.report.text.hints import heading, in_short, question
from auditor.settings import Settings
from auditor.store.derived import kits_in_use
from auditor.store.logbook import Logbook, open_logbook
from tests.frame_files import Shot, write_card

DAY_S = 24 * 3600.0
OLD, NEW = "Long 180-400mm f/5.6", "LG AF 180-400mm F5.6 VC"


def shot(number: int, day: float, lens: str, **facts: Any) -> Shot:
    return replace(Shot(number=number, after_s=day * DAY_S, lens=lens, focal_mm=400.0), **facts)


def scanned(tmp_path: Path, shots: Iterable[Shot], card: str = "card") -> Path:
    write_card(tmp_path / card, list(shots))
    scan(tmp_path / "logbook.sqlite", [tmp_path / card], Settings())
    return tmp_path / "logbook.sqlite"


def kits(book: Logbook) -> list[str]:
    return sorted(kit.kit_name for kit in kits_in_use(book))


RENAMED = (shot(1, 0, OLD), shot(2, 1, OLD), shot(3, 30, NEW), shot(4, 31, NEW))


def test_a_lens_that_new_firmware_renames_is_asked_about_and_counts_as_one_once_accepted(
    tmp_path: Path,
) -> None:
    with open_logbook(scanned(tmp_path, RENAMED)) as book:
        (hint,) = hints(book)
        assert isinstance(hint, LensHint)
        assert heading(hint).startswith("Body One, 2026-05-18 06:00 to 2026-05-19 06:00 (trip ")
        told = f"the files of Body One name a lens {NEW!r} (2 frames) and no longer one {OLD!r}, "
        assert question(hint).startswith(f"From 18 May 2026 on, {told}")
        assert in_short(hint).endswith(f"{NEW!r} another name of {OLD!r}?")
        number, effect = declare(book, Settings(), [hint.said])
        assert (len(effect.changed), effect.example and effect.example.after.lens_name) == (2, OLD)
        assert kits(book) == [f"Body One + {OLD}"]
        assert hints(book) == []
    scanned(tmp_path, [shot(5, 60, NEW)], "later")
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert kits(book) == [f"Body One + {OLD}"]
        _undone, effect = undo(book, Settings(), number)
        assert len(effect.changed) == 3
        assert kits(book) == [f"Body One + {NEW}", f"Body One + {OLD}"]
        assert len(hints(book)) == 1


def test_what_was_rejected_is_not_asked_again(tmp_path: Path) -> None:
    with open_logbook(scanned(tmp_path, RENAMED)) as book:
        declare(book, Settings(), [hints(book)[0].rejected])
        assert hints(book) == []
        assert len(kits(book)) == 2


def test_a_lens_renamed_twice_is_one_lens(tmp_path: Path) -> None:
    third = "LG 180-400mm F5.6 VC II"
    with open_logbook(scanned(tmp_path, [*RENAMED, shot(5, 60, third)])) as book:
        found = hints(book)
        assert [(hint.lens, hint.earlier) for hint in found if isinstance(hint, LensHint)] == [
            (NEW, OLD),
            (third, NEW),
        ]
        declare(book, Settings(), [hint.said for hint in found if hint.said is not None])
        assert kits(book) == [f"Body One + {OLD}"]


@pytest.mark.parametrize(
    "shots",
    [
        (shot(1, 0, OLD), shot(2, 0.2, NEW)),  # one day: both were in the bag
        (shot(1, 0, OLD), shot(2, 10, NEW), shot(3, 20, OLD)),  # in turn
        (shot(1, 0, OLD), shot(2, 30, "LG AF 180-400mm F4.5")),  # another widest f-number
        (shot(1, 0, OLD), shot(2, 30, "LG AF 180-600mm F5.6")),  # other focal lengths
        (shot(1, 0, OLD), shot(2, 30, "LG zoom")),  # a name that tells nothing
        (shot(1, 0, OLD), shot(2, 30, OLD.upper())),  # a spelling, which is one lens as it is
        (shot(1, 0, OLD), shot(2, 30, NEW, model="Body Two", serial="2002")),  # two bodies
    ],
)
def test_what_may_well_be_two_lenses_is_not_asked_about(tmp_path: Path, shots: tuple[Shot, ...]) -> None:
    with open_logbook(scanned(tmp_path, shots)) as book:
        assert [hint for hint in hints(book) if isinstance(hint, LensHint)] == []


def test_another_body_keeps_its_own_names(tmp_path: Path) -> None:
    """The adapter is on one of them; what is said is said of that one."""
    other = shot(9, 31, NEW, model="Body Two", serial="2002")
    with open_logbook(scanned(tmp_path, [*RENAMED, other])) as book:
        (hint,) = hints(book)
        assert isinstance(hint, LensHint)
        declare(book, Settings(), [hint.said])
        assert kits(book) == [f"Body One + {OLD}", f"Body Two + {NEW}"]


def test_a_lens_that_was_said_to_be_another_is_not_asked_about_under_the_name_of_a_third(
    tmp_path: Path,
) -> None:
    """The first question accepted, the second rejected: what is left are the first and the third name."""
    third = "LG 180-400mm F5.6 VC II"
    with open_logbook(scanned(tmp_path, [*RENAMED, shot(5, 60, third)])) as book:
        first, second = hints(book)
        declare(book, Settings(), [second.rejected])
        number, _effect = declare(book, Settings(), [first.said] if first.said else [])
        assert kits(book) == [f"Body One + {third}", f"Body One + {OLD}"]
        assert hints(book) == []
        undo(book, Settings(), number)
        assert [hint.said for hint in hints(book)] == [first.said]
