"""A card of real camera files: all of it in the logbook, or listed with a reason."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from tests.beside import REAL_FRAMES, needs_real_frames
from tests.frame_files import Shot, write_card


@needs_real_frames
def test_every_real_frame_is_in_or_listed(tmp_path: Path) -> None:
    expected = json.loads((REAL_FRAMES / "expected.json").read_text(encoding="utf-8"))
    logbook = tmp_path / "logbook.sqlite"
    (outcome,) = scan(logbook, [REAL_FRAMES], Settings())
    with open_logbook(logbook) as book:
        models = {
            Path(row["path"]).name: row["body_model"]
            for row in book.query("SELECT path, body_model FROM frame_facts")
        }
    assert outcome.read + len(outcome.unreadable) == outcome.seen == len(expected)
    assert all(reason for _, reason in outcome.unreadable)
    assert outcome.unreadable == []
    for entry in expected:
        model = entry["exiv2"].get("Exif.Image.Model", "").strip()
        assert models[entry["file"]] == (model or models[entry["file"]])


@needs_real_frames
def test_the_kit_of_a_real_lens_with_a_converter(tmp_path: Path) -> None:
    """A 100-400 mm f/4.5-5.6 with a 2x at 800 mm f/11: two stops forced, as the trade counts them (C)."""
    logbook = tmp_path / "logbook.sqlite"
    scan(logbook, [REAL_FRAMES], Settings())
    with open_logbook(logbook) as book:
        (row,) = book.query("SELECT * FROM frame_facts WHERE path LIKE '%2x%'")
    assert (row["converter_factor"], row["converter_source"]) == (2.0, "lens_name")
    assert (row["focal_length_mm"], row["f_number"], row["forced_push_ev"]) == (800, 11, 2)


def test_two_runs_at_once_on_one_logbook(tmp_path: Path) -> None:
    """One waits for the other; both cards are in afterwards, no frame twice."""
    logbook = tmp_path / "logbook.sqlite"
    cards = [tmp_path / "one", tmp_path / "two"]
    for place, card in enumerate(cards):
        write_card(card, [Shot(number=100 * place + n, after_s=place * 50 + n * 0.3) for n in range(1, 60)])
    command = "from auditor.cli.main import main; main()"
    running = [
        subprocess.Popen(
            [sys.executable, "-c", command, "scan", str(card), str(cards[0]), "--logbook", str(logbook)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for card in cards
    ]
    for process in running:
        _, told = process.communicate(timeout=120)
        assert process.returncode == 0, told
    with open_logbook(logbook) as book:
        assert book.query("SELECT count(*) FROM frame_facts")[0][0] == 118
        assert book.query("SELECT count(*), count(DISTINCT path) FROM frame_files")[0][:] == (118, 118)
        assert book.query("SELECT count(*) FROM touched")[0][0] == 0
        assert book.query("PRAGMA integrity_check")[0][0] == "ok"
