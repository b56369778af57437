"""AUDITOR_DEBUG=1 shows what a decoder raised, which otherwise costs only the maker's note."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from auditor.readers import maker
from auditor.readers.frame import found_file, read_file

SAMPLE = Path(__file__).parents[2] / "sample_images" / "DCIM" / "100SALT" / "F2A_0412.JPG"


@pytest.mark.parametrize("asked", [False, True])
def test_a_decoders_own_exception(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], asked: bool
) -> None:
    def wrong(_note: Any) -> Any:
        raise ZeroDivisionError("a fault in this decoder")

    monkeypatch.setattr(maker, "decoder_for", lambda _make: wrong)
    monkeypatch.setenv("AUDITOR_DEBUG", "1" if asked else "")
    recorded = read_file(found_file(SAMPLE)).recorded
    assert recorded.missing["focus_mode"] == "maker_note_unreadable"
    shown = capsys.readouterr().err
    assert ("ZeroDivisionError: a fault in this decoder" in shown) == asked
    assert ("Traceback" in shown) == asked
