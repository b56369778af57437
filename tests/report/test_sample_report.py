"""reports/ holds the rendering of sample_images, and it is what the code renders now."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from auditor.jobs.scan import scan
from auditor.report.page import default_folder, write_report
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from auditor.store.tables import find_trip

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def rendered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("sample")
    logbook = place / "logbook.sqlite"
    (outcome,) = scan(logbook, [ROOT / "sample_images"], Settings())
    assert outcome.unreadable == []
    with open_logbook(logbook) as book:
        trip = find_trip(book, None)
        folder = place / default_folder(trip)
        write_report(book, folder, trip=trip)
    return folder


def scrubbed(text: str) -> str:
    """Without the one line that holds the date and the version."""
    return re.sub(r'<p id="made">.*?</p>', "", text)


@pytest.mark.parametrize("name", ["report.html", "frames.csv", "kits.csv"])
def test_the_committed_report_is_what_the_code_renders(rendered: Path, name: str) -> None:
    committed = ROOT / "reports" / rendered.name / name
    assert scrubbed(committed.read_text(encoding="utf-8")) == scrubbed(
        (rendered / name).read_text(encoding="utf-8")
    ), "run `make report` and look at what has changed"


def test_the_report_names_nothing_of_this_machine(rendered: Path) -> None:
    for path in rendered.iterdir():
        text = path.read_text(encoding="utf-8")
        assert str(ROOT) not in text
        assert str(Path.home()) not in text
