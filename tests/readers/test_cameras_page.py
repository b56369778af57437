"""docs/cameras.md is what the decoders say of themselves."""

from __future__ import annotations

from pathlib import Path

from auditor.readers.makernotes import installed
from auditor.readers.makernotes.table import MAKERS, page

PAGE = Path(__file__).parents[2] / "docs" / "cameras.md"


def test_the_page_is_made_from_the_code() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), (
        "run `python -m auditor.readers.makernotes.table > docs/cameras.md`"
    )


def test_every_maker_on_the_page_is_installed() -> None:
    modules = {point.value.split(":")[0].rsplit(".", 1)[1] for point in installed().values()}
    assert set(MAKERS.values()) <= modules
