"""The registry of words and docs/logbook.md, which promises them to other programs, say the same."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from auditor import words
from auditor.focus import frame_measurement, sharpness
from auditor.records import REASONED

PAGE = Path(__file__).parents[1] / "docs" / "logbook.md"
HEADINGS: dict[str, type[words.Word]] = {
    "verdict, verdict_on_subject": words.Verdict,
    "verdict_source": words.VerdictSource,
    "camera_word": words.CameraWord,
    "blur_kind": words.BlurKind,
    "measured_on": words.PictureSource,
    "converter_source": words.ConverterSource,
    "flags": words.FrameFlag,
    "reading_flags": words.ReadingFlag,
    "missing": words.MissingReason,
    "role": words.FileRole,
    "chosen": words.Choice,
    "flags of a kit": words.KitFlag,
    "outcome for focus": words.FocusOutcome,
    "outcome for detail": words.DetailOutcome,
    "hit_rate_missing": words.NoRate,
    "advice": words.Advice,
}


def table_under(heading: str) -> dict[str, str]:
    """The rows of the first table below a heading of the page."""
    text = PAGE.read_text(encoding="utf-8").split(f"\n### {heading}\n")[1].split("\n#")[0]
    rows = re.findall(r"^\| (.+?) \| (.+?) \|$", text, re.MULTILINE)
    return dict(rows[2:])  # after the head and the rule below it


@pytest.mark.parametrize("heading", HEADINGS)
def test_the_page_lists_each_word_with_its_description(heading: str) -> None:
    assert table_under(heading) == {str(word): word.description for word in HEADINGS[heading]}


def test_every_kind_of_word_is_on_the_page() -> None:
    assert set(HEADINGS.values()) == set(words.REGISTRY)
    kinds = {
        kind for kind in vars(words).values()
        if isinstance(kind, type) and issubclass(kind, words.Word) and kind is not words.Word
    }  # fmt: skip
    assert kinds == set(words.REGISTRY)
    assert all(word.description for kind in words.REGISTRY for word in kind)


def test_the_flags_of_pure_readings_are_in_the_registry() -> None:
    assert set(frame_measurement.MEASURING_FLAGS) | set(sharpness.READING_FLAGS) <= set(words.ReadingFlag)


def test_a_word_is_its_text_in_json_and_in_the_logbook() -> None:
    assert json.dumps({words.Verdict.HIT: words.FrameFlag.SMEARED}) == '{"hit": "smeared"}'
    with closing(sqlite3.connect(":memory:")) as connection:
        stored = connection.execute("SELECT :word, typeof(:word)", {"word": words.Verdict.MISS})
        assert stored.fetchone() == ("miss", "text")
    assert f"{words.CameraWord.SILENT}" == "silent"


def test_reasons_are_for_recorded_columns_too() -> None:
    assert "camera_word" in REASONED
    assert words.MissingReason("not_recorded").description == "the file does not say"
