"""The command line: exit codes, one clear line for an error, every command with help."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

from tests.cli.program import error_line, run, start
from tests.frame_files import Shot, write_card, write_frame

README = Path(__file__).parents[2] / "README.md"


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    write_card(folder, [Shot(number=n, after_s=n * 700.0) for n in range(1, 6)])
    return folder


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite"


@pytest.fixture
def scanned(card: Path, logbook: Path) -> Path:
    assert run("scan", card, "--logbook", logbook).returncode == 0
    return logbook


def commands() -> list[str]:
    from auditor.cli.main import app

    return [info.callback.__name__ for info in app.registered_commands if info.callback]


def test_every_command_has_help_and_stands_in_the_readme() -> None:
    from auditor.cli.main import app

    readme = README.read_text(encoding="utf-8")
    for info in app.registered_commands:
        assert info.callback is not None
        assert info.callback.__doc__, info.callback.__name__
        assert f"auditor {info.callback.__name__}" in readme
    assert set(commands()) >= {"audit", "scan", "report", "kits", "frames", "inspect", "demo", "check"}


@pytest.mark.parametrize("command", [*commands(), "declare", "keepers"])
def test_help_of_a_command(command: str) -> None:
    done = run(command, "--help")
    assert done.returncode == 0
    assert "Usage:" in done.stdout


STARTS: dict[str, list[str]] = {
    "scan": ["card"],
    "measure": [],
    "audit": ["card", "--into", "audited"],
    "report": ["--into", "report"],
    "kits": [],
    "trips": [],
    "flags": [],
    "frames": [],
    "keepers": ["--unclear"],
    "inspect": ["card/DCIM/100TEST/TST_0001.JPG"],
    "declare": ["list"],
    "demo": ["demo", "--frames", "2"],
    "check": [],
    "plan": ["--distance", "30", "--light", "overcast", "--length", "0.9"],
    "bench": ["--target", "target.svg"],
    "drop": ["card"],
}
"""Every command once as a process of its own, in this order, on one logbook."""


def test_the_real_program_does_each_of_its_commands(tmp_path: Path) -> None:
    # The desk answers until it is stopped: tests/desk starts it.
    assert {*STARTS, "desk"} == {*commands(), "declare", "keepers"}
    write_card(tmp_path / "card", [Shot(number=n, after_s=n * 700.0) for n in range(1, 3)])
    for command, arguments in STARTS.items():
        logbook = [] if command in ("inspect", "demo", "bench") else ["--logbook", "logbook.sqlite"]
        done = start(command, *arguments, *logbook, cwd=tmp_path)
        # These frames have no known sensor, so that there is nothing to plan with: one line says so.
        assert done.returncode == (1 if command == "plan" else 0), (command, done.stderr)
        assert "Traceback" not in done.stderr
    assert (tmp_path / "report" / "report.html").exists()
    assert (tmp_path / "target.svg").exists()


def test_audit_from_folder_to_page(card: Path, logbook: Path, tmp_path: Path) -> None:
    done = run("audit", card, "--logbook", logbook, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    page = tmp_path / "reports" / "2026-04-18" / "report.html"
    assert page.exists()
    assert str(page.relative_to(tmp_path)) in done.stdout
    assert "5 read" in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= max(80, len(str(card)) + 80)


def test_audit_as_json(card: Path, logbook: Path, tmp_path: Path) -> None:
    done = run("audit", card, "--logbook", logbook, "--json", "--into", tmp_path / "out")
    document = json.loads(done.stdout)
    assert document["folders"][0]["read"] == 5
    assert Path(document["reports"][0]["path"]).exists()
    assert document["reports"][0]["kits"][0]["frames"] == 5


def test_three_when_some_files_cannot_be_read(card: Path, logbook: Path) -> None:
    (card / "broken.jpg").write_bytes(b"nothing of use")
    done = run("scan", card, "--logbook", logbook)
    assert done.returncode == 3
    assert "broken.jpg" in done.stdout
    assert run("check", "--logbook", logbook).returncode == 3
    assert run("kits", "--logbook", logbook).returncode == 0


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["scan", "nowhere"], "there is no such folder"),
        (["scan", "notes.txt"], "is a file"),
        (["scan", "empty"], "no pictures"),
        (["scan", "card", "--logbook", "card/logbook.sqlite"], "inside the scanned folder"),
        (["scan", "card", "--logbook", "notes.txt"], "not a logbook"),
        (["scan", "card", "--logbook", "notes.txt/logbook.sqlite"], "cannot be made"),
        (["scan", "card", "--logbook", "empty"], "is a folder"),
        (["kits", "--logbook", "none.sqlite"], "no logbook here yet"),
        (["report", "--logbook", "none.sqlite"], "no logbook here yet"),
        (["demo", "card"], "not empty"),
    ],
)
def test_one_when_it_cannot_be_done(tmp_path: Path, card: Path, arguments: list[str], told: str) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "notes.txt").write_text("a hundred bytes and more of plain text " * 4, encoding="utf-8")
    if "--logbook" not in arguments and arguments[0] == "scan":
        arguments = [*arguments, "--logbook", "logbook.sqlite"]
    before = sorted((str(p), p.is_file() and p.read_bytes()) for p in tmp_path.rglob("*"))
    done = run(*arguments, cwd=tmp_path)
    assert done.returncode == 1
    assert told in error_line(done)
    assert sorted((str(p), p.is_file() and p.read_bytes()) for p in tmp_path.rglob("*")) == before


@pytest.mark.parametrize(
    "arguments", [["scan"], ["scam"], ["frames", "--verdict", "good"], ["scan", "x", "--jobs", "0"]]
)
def test_two_when_used_wrongly(arguments: list[str], scanned: Path) -> None:
    done = run(*arguments)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_settings_that_cannot_be_meant_stop_before_anything(card: Path, logbook: Path) -> None:
    logbook.with_name("auditor.toml").write_text("burst_gap_s = -1\n", encoding="utf-8")
    done = run("scan", card, "--logbook", logbook)
    assert done.returncode == 1
    assert "line 1: burst_gap_s" in error_line(done)
    assert not logbook.exists()


def test_kits_as_text_and_json(scanned: Path) -> None:
    assert "Body One" in run("kits", "--logbook", scanned).stdout
    document = json.loads(run("kits", "--logbook", scanned, "--json").stdout)
    (kit,) = document["kits"]
    assert (kit["frames"], kit["scenes"], kit["median_iso"], kit["median_forced_push_ev"]) == (5, 5, 800, 0)
    assert kit["hit_rate"] is None
    assert kit["hit_rate_missing"] == "nothing_decided"


def test_frames_filtered(scanned: Path, card: Path, logbook: Path) -> None:
    assert len(json.loads(run("frames", "--logbook", scanned, "--json").stdout)) == 5
    assert len(json.loads(run("frames", "--logbook", scanned, "--json", "--kit", "1").stdout)) == 5
    csv = run("frames", "--logbook", scanned, "--csv", "--verdict", "unclear").stdout
    assert len(csv.splitlines()) == 6
    assert "TST_0003.JPG" in run("frames", "--logbook", scanned).stdout


def test_an_unknown_trip_is_told_with_those_that_there_are(scanned: Path) -> None:
    done = run("kits", "--logbook", scanned, "--trip", "Africa")
    assert done.returncode == 1
    assert "2026-04-18" in error_line(done)


def test_inspect_needs_no_logbook(card: Path, tmp_path: Path) -> None:
    good = write_frame(tmp_path / "one.jpg", Shot())
    bad = tmp_path / "bad.jpg"
    bad.write_bytes(b"nothing")
    done = run("inspect", good, bad, tmp_path / "none.jpg", "--json")
    assert done.returncode == 3
    documents: list[dict[str, Any]] = json.loads(done.stdout)
    assert [document["path"] for document in documents] == [str(good), str(bad), str(tmp_path / "none.jpg")]
    assert (documents[0]["f_number"], documents[0]["iso"], documents[0]["converter_source"]) == (
        5.6,
        800,
        "none",
    )
    assert all({"error", "reason"} <= set(document) for document in documents[1:])
    text = run("inspect", good)
    assert text.returncode == 0
    assert "Long 500mm f/5.6" in text.stdout


def test_check_tells_the_state_of_things(scanned: Path) -> None:
    document = json.loads(run("check", "--logbook", scanned, "--json").stdout)
    assert document["sound"] is True
    assert (document["frames"], document["files"], document["trips"]) == (5, 5, 1)
    assert "saltmark" in document["maker_notes"]


def test_the_logbook_may_come_from_the_environment(card: Path, logbook: Path, monkeypatch: Any) -> None:
    monkeypatch.setenv("AUDITOR_LOGBOOK", str(logbook))
    assert run("scan", card).returncode == 0
    assert logbook.exists()


def test_text_from_files_cannot_steer_the_terminal(tmp_path: Path, logbook: Path) -> None:
    write_frame(tmp_path / "card" / "A_0001.JPG", Shot(lens="\x1b[31mRed 500mm f/5.6 [bold]x[/bold]"))
    run("scan", tmp_path / "card", "--logbook", logbook)
    for command in (["kits"], ["frames"]):
        assert "\x1b" not in run(*command, "--logbook", logbook).stdout
    assert "\x1b" not in run("inspect", tmp_path / "card" / "A_0001.JPG").stdout


@pytest.mark.parametrize(("said", "stands"), [(None, "1"), ("4", "4")])
def test_small_matrices_are_worked_by_one_thread(
    monkeypatch: pytest.MonkeyPatch, said: str | None, stands: str
) -> None:
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", said or "")  # so that it is put back afterwards
    if said is None:
        monkeypatch.delenv("OPENBLAS_NUM_THREADS")
    assert run("--version").returncode == 0
    assert os.environ["OPENBLAS_NUM_THREADS"] == stands
