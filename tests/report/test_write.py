"""The page: numbers as in the logbook, hostile text as text, nothing overwritten, the same bytes again."""

from __future__ import annotations

import base64
import hashlib
import html
import io
import re
from dataclasses import asdict
from html.parser import HTMLParser
from pathlib import Path

import pandas as pd
import pytest

from auditor.analysis.kit_table import kit_table
from auditor.derive.rebuild import rebuild
from auditor.errors import OutputError
from auditor.frames.kit_names import short_names
from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.report import listing
from auditor.report.svg import looks
from auditor.report.tables import csv_lines
from auditor.report.terminal import kit_table_text
from auditor.report.text import values
from auditor.report.write import FORMATS, default_folder, files_of, write_report
from auditor.settings import Settings
from auditor.store.derived import kits_in_use
from auditor.store.frame_facts import FactsTable
from auditor.store.logbook import open_logbook
from auditor.store.selection import selected_frames
from auditor.store.trips import Trip, trips_newest_first
from tests.frame_files import Shot, write_card
from tests.report.made_answers import kit_row, with_2x


class Parsed(HTMLParser):
    """Tags and text of a page, by a parser that is not ours."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    """Two kits in five encounters each; the bare one confirmed on 9 of 10 frames, the other on 4."""
    shots = []
    for encounter in range(5):
        start_s = encounter * 3600.0
        shots += [Shot(number=10 * encounter + n, after_s=start_s + n) for n in (1, 2)]
        shots += [
            Shot(
                number=10 * encounter + n,
                after_s=start_s + 60 + n,
                lens="Long 500mm f/5.6 + 2x",
                focal_mm=1000,
                f_number=11,
                iso=12800,
            )
            for n in (3, 4)
        ]
    write_card(tmp_path / "card", shots)
    (tmp_path / "card" / "torn.jpg").write_bytes(b"nothing")
    path = tmp_path / "logbook.sqlite"
    scan(path, [tmp_path / "card"], Settings())
    with open_logbook(path) as book, book.writing():
        book.execute("UPDATE frames SET camera_word = 'not_confirmed'")
        book.execute("UPDATE frames SET camera_word = 'confirmed' WHERE file_number % 10 IN (1, 2)")
        book.execute("UPDATE frames SET camera_word = 'not_confirmed' WHERE file_number = 1")
        book.execute("UPDATE frames SET camera_word = 'confirmed' WHERE file_number IN (3, 4, 13, 14)")
        book.execute("INSERT INTO touched SELECT frame_id FROM frames")
    with open_logbook(path) as book:
        rebuild(book, Settings())
        measure(book, Settings())
        rebuild(book, Settings())
    return path


def written(logbook: Path, folder: Path, *, all_trips: bool = False) -> str:
    with open_logbook(logbook) as book:
        trip = None if all_trips else trips_newest_first(book)[0]
        return write_report(book, folder, trip=trip).read_text(encoding="utf-8")


def test_numbers_on_the_page_are_those_of_the_logbook(logbook: Path, tmp_path: Path) -> None:
    page = Parsed(written(logbook, tmp_path / "out")).text.replace("\u00a0", " ")
    with open_logbook(logbook) as book:
        rows = kit_table(book)
    assert [row.hits for row in rows] == [9, 4]
    for row in rows:
        ends = values.interval(row.hit_rate_low, row.hit_rate_high)
        assert f"{values.percent(row.hit_rate)} ({ends})" in page
        assert values.typical_iso(row.median_iso) in page
    assert "20 frames" in page
    assert "3200 → 12800" in page
    assert "10 frames over your ceiling" in page
    assert "torn.jpg" in page


def test_the_first_screen_is_no_surer_than_the_intervals(logbook: Path, tmp_path: Path) -> None:
    page = Parsed(written(logbook, tmp_path / "out")).text
    assert "likely between" in page
    assert not any(word in page for word in ("seems worth its cost", "bare where focus matters most"))
    assert "95 % interval" in page
    (heading,) = re.findall(r"<h1>(.*?)</h1>", written(logbook, tmp_path / "out"))
    assert not any(word in heading for word in ("paid", "Leave", "cost little"))


def test_after_an_interrupted_run_the_page_says_how_much_is_measured_in_place_of_an_answer(
    logbook: Path, tmp_path: Path
) -> None:
    with open_logbook(logbook) as book, book.writing():
        book.execute("DELETE FROM readings WHERE frame_id > 6")
    text = written(logbook, tmp_path / "out")
    (header,) = re.findall(r"<header>(.*?)</header>", text, re.DOTALL)
    assert "<h1>No answer yet.</h1>" in header
    assert "14 of 20 frames are not measured yet: too many for an answer. Run auditor measure" in header
    assert '<table class="ledger">' not in text
    assert text.count("not measured yet, and the rates leave them out") == 1
    with open_logbook(logbook) as book, book.writing():
        book.execute("UPDATE files SET present = 0")
    gone = written(logbook, tmp_path / "out")
    assert "not measured yet" not in gone  # nothing can be done about frames whose files have gone


def test_the_page_stands_by_itself(logbook: Path, tmp_path: Path) -> None:
    text = written(logbook, tmp_path / "out")
    page = Parsed(text)
    assert not {"link", "iframe", "object", "base", "form"} & set(page.tags)
    named = [value or "" for name, value in page.attributes if name in ("src", "href", "xlink:href")]
    assert [value[:20] for value in named if not value.startswith(("#", "data:image/jpeg;base64,"))] == []
    assert not [name for name, _value in page.attributes if name == "style" or name.startswith("on")]
    assert ("lang", "en") in page.attributes
    assert str(tmp_path) not in text


def test_the_policy_allows_the_pages_own_parts_by_their_hash(logbook: Path, tmp_path: Path) -> None:
    """W3C, Content Security Policy Level 3, 2.3.1: SHA-256 of the element's text, in base64 (S)."""
    text = written(logbook, tmp_path / "out")
    stated = re.search(r'Content-Security-Policy" content="(.*?)"', text)
    assert stated is not None
    policy = html.unescape(stated[1])
    parts = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    for directive, element in (("script-src", "script"), ("style-src", "style")):
        inline = re.findall(rf"<{element}>(.*?)</{element}>", text, re.DOTALL)
        digests = [base64.b64encode(hashlib.sha256(part.encode()).digest()).decode() for part in inline]
        assert sorted(parts[directive].split()) == sorted(f"'sha256-{digest}'" for digest in digests)
    assert parts["default-src"] == "'none'"
    assert "unsafe" not in policy


def test_a_folder_inside_a_scanned_one_is_refused(logbook: Path, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="inside the scanned folder"):
        written(logbook, tmp_path / "card" / "report")
    assert not (tmp_path / "card" / "report").exists()


@pytest.mark.parametrize("name", files_of(FORMATS))
def test_files_of_others_are_not_overwritten(logbook: Path, tmp_path: Path, name: str) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / name).write_text("mine", encoding="utf-8")
    with open_logbook(logbook) as book, pytest.raises(OutputError, match=name):
        write_report(book, out, trip=None, formats=FORMATS)
    assert [(path.name, path.read_text(encoding="utf-8")) for path in out.iterdir()] == [(name, "mine")]


@pytest.mark.parametrize("formats", [["csv"], ["json"], ["parquet"], list(FORMATS)])
def test_only_what_was_asked_for_is_written_and_replaced(
    logbook: Path, tmp_path: Path, formats: list[str]
) -> None:
    out = tmp_path / "out"
    with open_logbook(logbook) as book:
        for _time in range(2):
            first = write_report(book, out, trip=None, formats=formats)
            assert first == out / files_of(formats)[0]
            assert sorted(path.name for path in out.iterdir()) == sorted(files_of(formats))


def test_the_same_logbook_gives_the_same_bytes_and_replaces_its_own(logbook: Path, tmp_path: Path) -> None:
    first = written(logbook, tmp_path / "out")
    assert written(logbook, tmp_path / "out") == first
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "frames.csv",
        "kits.csv",
        "report.html",
    ]


def test_the_page_of_all_trips_says_that_it_looks_again(logbook: Path, tmp_path: Path) -> None:
    assert "1 trip. Firm answers allow for looking again after every trip" in written(
        logbook, tmp_path / "all", all_trips=True
    )
    assert "1 trip. Firm words" not in written(logbook, tmp_path / "one")


def test_the_csv_is_the_view(logbook: Path, tmp_path: Path) -> None:
    written(logbook, tmp_path / "out", all_trips=True)
    read = pd.read_csv(tmp_path / "out" / "frames.csv")
    with open_logbook(logbook) as book:
        view = pd.DataFrame(map(asdict, selected_frames(book)))
    assert list(read.columns) == list(view.columns)
    for name in ("iso", "forced_push_ev", "light_value_ev", "encounter_id"):
        pd.testing.assert_series_equal(read[name], view[name], check_dtype=False)
    assert list(read["path"]) == [f"DCIM/100TEST/{Path(path).name}" for path in view["path"]]


def test_no_cell_runs_as_a_formula() -> None:
    names, steps = ["=1+1", "-2", "@x", "plain", None], [-1.5, 2, None, 0, 1]
    table = FactsTable(("lens_name", "ev"), list(zip(names, steps, strict=True)))
    read = pd.read_csv(io.StringIO("".join(csv_lines([table]))))
    assert list(read["lens_name"].fillna("")) == ["'=1+1", "'-2", "'@x", "plain", ""]
    assert list(read["ev"].fillna(99)) == [-1.5, 2, 99, 0, 1]


def test_parts_of_a_table_have_one_head() -> None:
    columns = ("frame_id", "iso")
    parts = [FactsTable(columns, [(1, 100.0), (2, None)]), FactsTable(columns, [(3, 12800.0)])]
    assert "".join(csv_lines(parts)).splitlines() == ["frame_id,iso", "1,100", "2,", "3,12800"]


@pytest.mark.parametrize("change", ["UPDATE frames SET camera_word = NULL", "DELETE FROM membership"])
def test_a_page_without_judged_frames_or_groups(logbook: Path, tmp_path: Path, change: str) -> None:
    with open_logbook(logbook) as book, book.writing():
        book.execute(change)
    assert "20 frames" in written(logbook, tmp_path / "out", all_trips=True)
    with open_logbook(logbook) as book:
        assert kit_table_text(kit_table(book), width=80)


def test_a_card_of_bare_lenses_has_no_column_of_what_a_converter_cost(logbook: Path, tmp_path: Path) -> None:
    assert "Bare, at most" in written(logbook, tmp_path / "out")
    write_card(tmp_path / "bare", [Shot(number=n, after_s=float(n)) for n in (1, 2)])
    other = tmp_path / "bare.sqlite"
    scan(other, [tmp_path / "bare"], Settings())
    assert "Bare, at most" not in written(other, tmp_path / "bare_page")


def test_one_frame_without_anything(tmp_path: Path) -> None:
    from PIL import Image

    (tmp_path / "card").mkdir()
    Image.new("L", (8, 8)).save(tmp_path / "card" / "a.jpg")
    logbook = tmp_path / "logbook.sqlite"
    scan(logbook, [tmp_path / "card"], Settings())
    assert "1 frame" in written(logbook, tmp_path / "out", all_trips=True)


@pytest.mark.parametrize(
    ("name", "slug"),
    [
        ("2026-04-18 to 2026-04-19", "2026-04-18-to-2026-04-19"),
        ("Ostsee/../x: ä?", "ostsee-x-ä"),
        ("..", "trip-3"),
    ],
)
def test_folders_are_named_after_trips(name: str, slug: str) -> None:
    trip = Trip(3, name, "2026-04-18T06:00:00", "2026-04-19T18:00:00", 12)
    assert default_folder(trip) == Path("reports") / slug
    assert default_folder(None) == Path("reports") / "all-trips"


def test_the_kit_table_fits_eighty_columns_and_says_why_there_is_no_rate(logbook: Path) -> None:
    with open_logbook(logbook) as book:
        text = kit_table_text(kit_table(book), width=80)
        assert max(len(line) for line in text.splitlines()) <= 80
        assert "40 %" in text
        with book.writing():
            book.execute("UPDATE frames SET camera_word = NULL WHERE file_number > 20")
            book.execute("INSERT INTO touched SELECT frame_id FROM frames")
        rebuild(book, Settings())
        assert "ewer than 3 encounters" in kit_table_text(kit_table(book), width=80)


def test_the_kit_table_of_bare_lenses_says_nothing_of_converters() -> None:
    bare, doubled, unknown = kit_row(), with_2x(), kit_row(3, "Kit 3", converter_factor=None)
    told = kit_table_text([bare], width=80)
    assert "ISO" in told
    assert not any(word in told for word in ("Up to", "Took", "converter", "bare"))
    for other in (doubled, unknown):
        assert all(
            word in kit_table_text([bare, other], width=80) for word in ("Up to*", "Took", "bare lens")
        )


def test_the_page_of_all_trips_lists_the_newest_trip_first(
    logbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of more frames than fit, those of the oldest trip are left out."""
    old = [Shot(number=200 + n, after_s=-30 * 86400.0 + n, f_number=11) for n in range(6)]
    write_card(tmp_path / "old", old)
    scan(logbook, [tmp_path / "old"], Settings())
    with open_logbook(logbook) as book:
        measure(book, Settings())
        rebuild(book, Settings())
        monkeypatch.setattr(listing, "MOST_FRAMES", 20)
        in_use = kits_in_use(book)
        shown = listing.shown_frames(book, None, [], looks(in_use), short_names(in_use))
    taken = [row.taken_at for row in shown.rows]
    assert len(taken) == 20
    assert taken == sorted(taken)
    assert not [row for row in shown.rows if str(row.file_path).startswith(str(tmp_path / "old"))]
