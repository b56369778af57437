"""One body and one lens, spelled in several ways, are one kit; what may be another is left alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from auditor.analysis.breakdowns import breakdown
from auditor.analysis.kit_table import kit_table
from auditor.analysis.kits import bare_of
from auditor.derive.rebuild import rebuild
from auditor.frames.spellings import Spellings, plain
from auditor.jobs.scan import scan
from auditor.records import KitIdentity
from auditor.settings import Settings
from auditor.store.derived import kits_in_use
from auditor.store.encounter_sums import known_kits
from auditor.store.logbook import open_logbook
from tests.frame_files import Shot, write_card


@pytest.mark.parametrize(
    ("name", "other_name", "same"),
    [
        ("Fernhill X1", "FERNHILL X-1", True),
        ("FL 600mm f/4", "FL 600MM  F4", True),
        ("FL180-400mm f/5.6", "FL 180-400 mm F5.6", True),
        ("Zoom TC1.4", "Zoom TC14", False),  # a mark between digits may be a decimal point
        ("FL 600mm f/4", "FL 600mm f/4 II", False),
        ("FL 600mm f/4", "FL 600mm f/5.6", False),
    ],
)
def test_names_that_differ_in_capitals_spaces_and_marks_alone_are_one(
    name: str, other_name: str, same: bool
) -> None:
    assert (plain(name) == plain(other_name)) is same


def body(make: str, model: str, serial: str | None) -> KitIdentity:
    return KitIdentity(
        body_make=make, body_model=model, body_serial=serial, lens_name="FL 600mm f/4", converter_factor=1.0
    )


def test_bodies_are_one_only_where_their_serial_number_is() -> None:
    first = body("Fernhill", "Fernhill X1", "1001")
    spellings = Spellings([first, body("Fernhill", "Fernhill X1", None)])
    assert spellings.of(body("FERNHILL CORP.", "FERNHILL X-1", "1001")) == first
    for other in (body("Fernhill", "FERNHILL X-1", "1002"), body("Fernhill", "FERNHILL X-1", None)):
        assert spellings.of(other) == other


def card_of_two_firmwares(card: Path) -> Path:
    """The converter is used in the new spelling alone."""
    new = replace(Shot(), model="BODY ONE", lens="LONG 500mm F5.6")
    write_card(
        card,
        [
            Shot(number=1),
            replace(new, number=2, after_s=3600.0),
            replace(new, number=3, after_s=7200.0, focal_mm=1000.0, f_number=11.0),
        ],
    )
    return card


ONE_RECORD = [("Body One + Long 500mm f/5.6", 2), ("Body One + Long 500mm f/5.6 + 2x", 1)]


def test_after_a_change_of_firmware_a_kit_has_one_record(tmp_path: Path) -> None:
    """And what was only used after it is compared with the bare lens of before."""
    scan(tmp_path / "logbook.sqlite", [card_of_two_firmwares(tmp_path / "card")], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert [(row.kit_name, row.frames) for row in kit_table(book)] == ONE_RECORD
        bare, doubled = known_kits(book)
        assert bare_of(doubled, [bare, doubled]) == bare


@pytest.mark.parametrize(("by", "name"), [("body", "Body One"), ("lens", "Long 500mm f/5.6")])
def test_rates_by_body_or_lens_know_one_name(tmp_path: Path, by: str, name: str) -> None:
    scan(tmp_path / "logbook.sqlite", [card_of_two_firmwares(tmp_path / "card")], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert {row.band for row in breakdown(book, by)} == {name}


def test_kits_that_a_logbook_holds_apart_become_one_and_keep_the_older_number(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as before:
        before.setattr(Spellings, "of", lambda _self, kit: kit)
        before.setattr("auditor.derive.freshness.VERSION", "9")
        scan(tmp_path / "logbook.sqlite", [card_of_two_firmwares(tmp_path / "card")], Settings())
        with open_logbook(tmp_path / "logbook.sqlite") as book:
            assert [row.kit_id for row in kit_table(book)] == [2, 3, 1]
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        rebuild(book, Settings())
        rows = kit_table(book)
        assert [(row.kit_name, row.frames) for row in rows] == ONE_RECORD
        assert rows[0].kit_id == 1
        assert [kit.kit_id for kit in kits_in_use(book)] == [row.kit_id for row in rows]
