"""auditor keepers on the sample trip."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

SAMPLE = Path(__file__).parents[2] / "sample_images"


def run(*arguments: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from auditor.cli.main import main; main()", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("book") / "logbook.sqlite"
    assert run("scan", SAMPLE, "--logbook", path).returncode == 0
    assert run("measure", "--logbook", path).returncode == 0
    return path


def test_paths_of_hits_on_stdout_and_the_count_on_stderr(logbook: Path) -> None:
    done = run("keepers", "--logbook", logbook)
    paths = done.stdout.splitlines()
    assert all(Path(path).is_file() for path in paths)
    assert f"{len(paths)} of 88 frames are keepers." in done.stderr
    assert run("keepers", "--logbook", logbook, "--nul").stdout.count("\0") == len(paths)


def test_json_says_what_was_kept_apart_and_taken_away(logbook: Path) -> None:
    document = json.loads(
        run("keepers", "--logbook", logbook, "--json", "--best", 1, "--per", "scene").stdout
    )
    scenes = [row["scene_id"] for row in document["keepers"]]
    assert len(scenes) == len(set(scenes))
    assert document["taken_away"]["verdict"] > 0


def test_a_plan_writes_nothing_and_a_copy_can_be_run_again(logbook: Path, tmp_path: Path) -> None:
    target = tmp_path / "keepers"
    options = ("keepers", "--logbook", logbook, "--best", 1, "--copy-to", target)
    planned = run(*options, "--dry-run")
    assert " -> " in planned.stdout
    assert not target.exists()
    first = run(*options)
    count = len(list(target.iterdir()))
    assert f"{count} files copied and verified, 0 there already" in first.stdout
    assert f"0 files copied and verified, {count} there already" in run(*options).stdout


def test_words_that_are_none_and_a_scanned_target_are_refused(logbook: Path) -> None:
    assert run("keepers", "--logbook", logbook, "--verdict", "good").returncode == 2
    assert run("keepers", "--logbook", logbook, "--best", 0).returncode == 2
    done = run("keepers", "--logbook", logbook, "--copy-to", SAMPLE / "new")
    assert done.returncode == 1
    assert "never written to" in done.stderr
    assert not (SAMPLE / "new").exists()


def test_an_audit_lists_pictures_that_cannot_be_decoded_and_says_so_by_its_exit_code(tmp_path: Path) -> None:
    card = tmp_path / "card"
    card.mkdir()
    for path in sorted((SAMPLE / "DCIM" / "100SALT").glob("*.JPG"))[:3]:
        (card / path.name).write_bytes(path.read_bytes())
    broken = min(card.iterdir())
    data = broken.read_bytes()
    broken.write_bytes(data[: data.index(b"\xff\xda")])
    options = ("audit", card, "--logbook", tmp_path / "logbook.sqlite", "--into", tmp_path / "report")
    done = run(*options)
    assert done.returncode == 3
    assert "1 pictures could not be decoded" in done.stdout
    assert broken.name in done.stdout
    again = run(*options)
    assert again.returncode == 3
    assert broken.name in again.stdout


def test_flags_name_kits_and_frames_with_reasons(logbook: Path) -> None:
    document = json.loads(run("flags", "--logbook", logbook, "--json").stdout)
    assert {row["hits"]["outcome"] for row in document["comparisons"]} == {"not enough evidence"}
    assert document["kits"] == []  # nothing is claimed of so small a trip
    assert any("smeared" in row["flags"] for row in document["frames"])
    text = run("flags", "--logbook", logbook).stdout
    assert max(len(line) for line in text.splitlines()) <= 80
