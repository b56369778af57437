"""Cards that appear: read once they have come to rest, and again when another takes their place."""

from __future__ import annotations

import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from auditor.jobs.watch import appearing

SAMPLE = Path(__file__).parents[2] / "sample_images"
FRAMES = sorted((SAMPLE / "DCIM").rglob("*.JPG"))


def test_a_card_is_read_when_two_looks_find_the_same_and_again_when_it_changed(tmp_path: Path) -> None:
    card, other = tmp_path / "card", tmp_path / "other"

    def copy(number: int) -> None:
        card.mkdir(exist_ok=True)
        shutil.copy2(FRAMES[number], card)

    def pull() -> None:
        shutil.rmtree(card)

    happens: dict[int, Callable[[], None]] = {
        1: lambda: copy(0), 2: lambda: copy(1), 6: pull, 8: lambda: copy(1), 11: pull, 13: lambda: copy(1),
    }  # fmt: skip
    looks = 0

    def pause(_seconds: float) -> None:
        nonlocal looks
        looks += 1
        happens.get(looks, lambda: None)()
        if looks > 17:
            raise KeyboardInterrupt

    seen = []
    try:
        for there in appearing([card, other], pause=pause):
            seen.append((looks, there))
    except KeyboardInterrupt:
        pass
    # Still being filled at look 1; the same at 2 and 3. Gone at 6, and back at 8 and 9. Gone at 11, and back
    # with the very same at 13: another card may lie behind it.
    assert seen == [(3, [card]), (9, [card]), (14, [card])]


def test_audit_waits_for_a_card_and_leaves_at_ctrl_c_with_everything_written(tmp_path: Path) -> None:
    card = tmp_path / "card"
    book, into = tmp_path / "book" / "logbook.sqlite", tmp_path / "report"
    command = [
        sys.executable, "-c", "from auditor.cli.main import main; main()",
        "audit", str(card), "--watch", "--logbook", str(book), "--into", str(into), "--jobs", "1",
    ]  # fmt: skip
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as run:
        try:
            assert run.stderr is not None
            while "Waiting for" not in run.stderr.readline():
                pass
            (card / "DCIM").mkdir(parents=True)
            for frame in FRAMES[:3]:
                shutil.copy2(frame, card / "DCIM")
            while "Waiting for" not in run.stderr.readline():  # again, once the card was audited
                pass
            run.send_signal(signal.SIGINT)
            began = time.monotonic()
            out, errors = run.communicate(timeout=60)
        finally:
            run.kill()
    assert time.monotonic() - began < 30  # a hang, not a speed
    assert run.returncode == 1
    assert "Stopped waiting. Everything that was read is kept." in errors
    assert "3 files, 3 read" in out
    assert (into / "report.html").is_file()
