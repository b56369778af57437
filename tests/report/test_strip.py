"""The contact strip: it stands by itself, shows hostile text as text, and replaces nothing but its own."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from auditor.errors import OutputError
from auditor.report.strip import write_strip
from auditor.store.crops import crop_path
from auditor.store.frame_facts import FrameFacts
from tests.report.test_write import Parsed

HOSTILE = "<script>alert(1)</script>\"'&\u202e\x1b[31m =cmd " + "long" * 2500


def frame(frame_id: int = 1, **more: Any) -> FrameFacts:
    facts = {
        "frame_id": frame_id, "path": f"/card/100TEST/T_{frame_id:04}.JPG",
        "taken_at": "2026-04-18T09:30:00.10", "kit_name": "Body + Long 500mm + 1.4x",
        "iso": 800.0, "exposure_time_s": 0.001, "f_number": 8.0,
        "blur_px": 0.71, "blur_kind": "sharp", "verdict": "hit", "verdict_source": "pixels",
        "camera_word": "confirmed", "rating": 4, "flags": ["iso_pushed"], **more,
    }  # fmt: skip
    return FrameFacts(**facts)


def written(tmp_path: Path, *frames: FrameFacts, title: str = "Trip to the estuary") -> str:
    page = tmp_path / "strip.html"
    write_strip(page, frames, title=title, logbook_path=tmp_path / "logbook.sqlite")
    return page.read_text(encoding="utf-8")


def test_each_frame_with_its_picture_and_the_words_that_matter(tmp_path: Path) -> None:
    picture = crop_path(tmp_path / "logbook.sqlite", 1)
    picture.parent.mkdir(parents=True)
    Image.new("L", (32, 32), 90).save(picture)
    nothing = dict.fromkeys(("taken_at", "iso", "f_number", "exposure_time_s", "blur_px", "camera_word"))
    page = Parsed(written(tmp_path, frame(1), frame(2, **nothing, flags=[], rating=None)))
    (source,) = [value for name, value in page.attributes if name == "src"]
    data = base64.b64decode((source or "").removeprefix("data:image/jpeg;base64,"))
    assert Image.open(io.BytesIO(data)).size == (32, 32)
    (alternative,) = [value for name, value in page.attributes if name == "alt"]
    assert alternative == (
        "Focus area of T_0001.JPG at 100 %: in focus, from its pixels, blur 0.7 px, camera said in focus, "
        "your rating 4"
    )
    for words in (
        "2 frames", "2026-04-18", "09:30:00, 1/1000 s, f/8, ISO 800", "Body + Long 500mm + 1.4x",
        "The converter pushed ISO over your ceiling", "Time not known", "No picture of its focus area",
        "A sharp frame is not yet a good picture",
    ):  # fmt: skip
        assert words in page.text
    assert "None" not in page.text


def test_it_stands_by_itself_and_runs_nothing(tmp_path: Path) -> None:
    text = written(tmp_path, frame())
    page = Parsed(text)
    assert not {"script", "link", "iframe"} & set(page.tags)
    assert not [value for name, value in page.attributes if name == "href" or name.startswith("on")]
    assert "default-src 'none'; style-src 'unsafe-inline'; img-src data:" in text
    assert str(tmp_path) not in text


def test_hostile_text_shows_as_text(tmp_path: Path) -> None:
    text = written(
        tmp_path, frame(path=f"/card/{HOSTILE}.JPG", kit_name=HOSTILE, taken_at=HOSTILE), title=HOSTILE
    )
    assert "script" not in Parsed(text).tags
    assert "<script>alert(1)</script>" in Parsed(text).text
    for letter in ("\x1b", "\u202e"):
        assert letter not in text


def test_it_replaces_its_own_page_and_no_other_file(tmp_path: Path) -> None:
    assert written(tmp_path, frame()) == written(tmp_path, frame())
    (tmp_path / "strip.html").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="did not write this file"):
        written(tmp_path, frame())
    with pytest.raises(OutputError, match="is a folder"):
        write_strip(tmp_path, [], title="", logbook_path=tmp_path)
    assert [(path.name, path.read_text(encoding="utf-8")) for path in tmp_path.iterdir()] == [
        ("strip.html", "mine")
    ]
