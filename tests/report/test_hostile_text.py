"""Text from files that would be markup, script, formula or a turned line shows as text, everywhere."""

from __future__ import annotations

import shlex
from html.parser import HTMLParser
from pathlib import Path

import pytest
from rich.cells import cell_len

from auditor.analysis.kit_table import kit_table
from auditor.jobs.scan import scan
from auditor.report.frame_lines import frame_lines
from auditor.report.page_parts import command_of
from auditor.report.terminal import kit_table_text
from auditor.report.write import FORMATS, write_report
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from auditor.store.selection import selected_frames
from auditor.store.trips import Trip
from tests.frame_files import Shot, write_card

NAMES = {
    "script": "<script>window.pwned = 1</script><img src=x onerror='window.pwned = 1'>",
    "end of script": "</script><!--<script> ]]> \u2028 alert",
    "quotes": "\"'`&amp;&lt; ' onmouseover='x\" autofocus=\"",
    "turned line": "a\u202e\u2066gnol\u200f z\u0301\x1b[31m\x07",
    "formula": "=HYPERLINK(1)",
    "template": "{{ 7 * 7 }} {% raw %} ${7*7} datum['constructor']",
    "long": "very long " * 1000,
}
NEVER = ("\x1b", "\x07", "\u202e", "\u2066", "\u200f", "\0")


class Tags(HTMLParser):
    """Tags, attributes' names, and the text that is read."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.names: set[str] = set()
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.names |= {name for name, _value in attrs}

    def handle_data(self, data: str) -> None:
        self.text += data


def logbook_with(folder: Path, lens: str) -> Path:
    """Twelve frames in four encounters, their lens so named, some with NUL in their keyword."""
    shots = [Shot(number=n, after_s=900.0 * (n // 3) + n, lens=lens) for n in range(1, 13)]
    write_card(folder / "card", shots)
    path = folder / "logbook.sqlite"
    scan(path, [folder / "card"], Settings())
    with open_logbook(path) as book, book.writing():
        book.execute("UPDATE frames SET camera_word = 'confirmed'")
        # Words that no reader lets through, as a logbook of other hands might hold them.
        book.execute("UPDATE inferred SET flags = '[\"<b>\\u0000</b>\"]' WHERE frame_id = 1")
    return path


@pytest.fixture(scope="module")
def harmless(tmp_path_factory: pytest.TempPathFactory) -> Tags:
    folder = tmp_path_factory.mktemp("harmless")
    with open_logbook(logbook_with(folder, "a lens that names no focal length")) as book:
        return Tags(write_report(book, folder / "out", trip=None).read_text(encoding="utf-8"))


@pytest.mark.parametrize("kind", NAMES)
def test_the_page_gets_no_tag_from_a_lens_name(tmp_path: Path, kind: str, harmless: Tags) -> None:
    with open_logbook(logbook_with(tmp_path, NAMES[kind])) as book:
        page = write_report(book, tmp_path / "out", trip=None, formats=FORMATS)
        rows, kits = selected_frames(book), kit_table(book)
    text = page.read_text(encoding="utf-8")
    found = Tags(text)
    assert found.tags == harmless.tags
    assert found.names == harmless.names
    for letter in NEVER:
        assert letter not in text
    start = NAMES[kind][:30].split("\x1b")[0].split("\u202e")[0].split("\u2028")[0]
    assert start in found.text
    names = {row.kit_id: row.kit_name for row in rows}
    listed = "\n".join(frame_lines(rows, names, [], longest=20, width=80))
    for told in (kit_table_text(kits, width=80), listed):
        assert max(map(cell_len, told.splitlines())) <= 80  # letters that combine take no cell
        assert not any(letter in told for letter in NEVER)
    assert len(text) < 4_000_000


def test_a_formula_does_not_run_in_a_spreadsheet(tmp_path: Path) -> None:
    with open_logbook(logbook_with(tmp_path, NAMES["formula"])) as book:
        write_report(book, tmp_path / "out", trip=None, formats=["csv"])
    told = (tmp_path / "out" / "frames.csv").read_text(encoding="utf-8")
    assert "=HYPERLINK" in told
    assert ",=HYPERLINK" not in told


@pytest.mark.parametrize(
    "name", ["Estuary", "2026-04-18 to 2026-04-19", "$(touch gone)", "a'b`c`", '"; rm x "']
)
def test_the_command_on_the_page_is_one_word_to_a_shell(name: str) -> None:
    trip = Trip(1, name, "2026-04-18T06:00:00", "2026-04-19T18:00:00", 12)
    assert shlex.split(command_of(trip))[-1] == name
    inside = command_of(trip).removeprefix("auditor report --trip ")
    assert inside.startswith("'") or not set(inside) & set("$`\\")
