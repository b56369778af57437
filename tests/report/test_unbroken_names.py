"""In the terminal no line ends inside a kit's lens and converter, however narrow a table's column is."""

from __future__ import annotations

import pytest

from auditor.analysis.breakdowns import BandRate
from auditor.cli.common import filled
from auditor.report.terminal import breakdown_text, full_names_text, kit_table_text, ledger_text
from auditor.report.text import values
from auditor.report.text.ledger import LedgerLine
from tests.report.made_answers import kit_row

KITS = ("Saltmark S2 300 mm x ?", "Saltmark F2 100-400 mm x 1.4", "Saltmark S2 #0417 300 mm x 2")
TAILS = ("300 mm x ?", "100-400 mm x 1.4", "300 mm x 2")


def rate(name: str) -> BandRate:
    return BandRate(
        kit_name=name, band="06:00", frames=10, encounters=3, judged=10, hits=9, unclear=0, hit_rate=0.9,
        hit_rate_low=0.6, hit_rate_high=1.0,
    )  # fmt: skip


def line(name: str) -> LedgerLine:
    return LedgerLine(
        kit_id=1, name=name, counted="", loss=None, in_focus="not compared", between="", iso="", over="",
        detail="", detail_between="", answer="photograph it with the converter and without",
    )  # fmt: skip


@pytest.mark.parametrize("width", range(60, 84))
def test_tables_keep_lens_and_converter_together(width: int) -> None:
    rows = [kit_row(number, name, converter_factor=None) for number, name in enumerate(KITS, 1)]
    for text in (
        kit_table_text(rows, width=width),
        breakdown_text(list(map(rate, KITS)), "hour", "hour", width=width),
        ledger_text(list(map(line, KITS)), width=width),
    ):
        assert [tail for tail in TAILS if tail not in text] == [], text
        assert max(map(len, text.splitlines())) <= width
        assert all(letter.isprintable() and letter != values.NO_BREAK for letter in text.replace("\n", ""))


@pytest.mark.parametrize("width", range(40, 84))
def test_sentences_keep_lens_and_converter_together(width: int) -> None:
    said = f"Leave {', '.join(KITS)} off; at 40 m and 12 EV they lost 9 of 100, 8 %, at ISO 400. " * 3
    for text in (
        "\n".join(values.wrapped(said, width)),
        filled(said, width),
        full_names_text({"the others": said}, width=width),
    ):
        for kept in (*TAILS, "40 m", "12 EV", "9 of", "8 %", "ISO 400"):
            assert text.count(kept) == said.count(kept), text
