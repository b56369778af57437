"""auditor keepers on the sample trip."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.program import error_line, run

SAMPLE = Path(__file__).parents[2] / "sample_images"


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory, measured_sample: Callable[[Path], Path]) -> Path:
    return measured_sample(tmp_path_factory.mktemp("book"))


def test_paths_of_hits_on_stdout_and_the_count_on_stderr(logbook: Path) -> None:
    done = run("keepers", "--logbook", logbook)
    paths = done.stdout.splitlines()
    assert all(Path(path).is_file() for path in paths)
    assert f"{len(paths)} of 88 frames are keepers (trip 2026-04-18 to 2026-04-19)." in done.stderr
    assert run("keepers", "--logbook", logbook, "--nul").stdout.count("\0") == len(paths)


def test_json_says_what_was_kept_apart_and_taken_away(logbook: Path) -> None:
    document = json.loads(
        run("keepers", "--logbook", logbook, "--json", "--best", 1, "--per", "scene").stdout
    )
    scenes = [row["scene_id"] for row in document["keepers"]]
    assert len(scenes) == len(set(scenes))
    assert document["taken_away"]["verdict"] > 0
    every = json.loads(run("keepers", "--logbook", logbook, "--json").stdout)["keepers"]
    assert document["beyond_best"] == len(every) - len(document["keepers"]) > 0


def test_the_list_says_how_to_go_on(logbook: Path) -> None:
    listed = run("keepers", "--logbook", logbook, "--best", 1)
    assert f"To hand them over: auditor keepers copy FOLDER --logbook {logbook}" in listed.stderr
    left_out = len(run("keepers", "--logbook", logbook).stdout.splitlines()) - len(listed.stdout.splitlines())
    assert f"at most 1 of each burst, the sharpest: leaves out {left_out} (" in listed.stderr
    assert "To hand them over" not in run("keepers", "--logbook", logbook, "--nul").stderr
    by_eye = run("keepers", "--logbook", logbook, "--chosen")
    assert "none was chosen by eye yet: auditor desk" in by_eye.stderr
    assert "To hand them over" not in by_eye.stderr


def receipt_of(text: str) -> str:
    """The number behind `keepers undo` in what a run printed."""
    return text.split("keepers undo ")[1].split()[0]


def test_a_plan_writes_nothing_a_copy_can_be_run_again_and_be_taken_back(
    logbook: Path, tmp_path: Path
) -> None:
    target = tmp_path / "keepers"
    options = ("keepers", "copy", target, "--logbook", logbook, "--best", 1)
    planned = run(*options, "--dry-run")
    assert " -> " in planned.stdout
    assert "Nothing was done." in planned.stdout
    assert not target.exists()
    first = run(*options)
    count = len(list(target.iterdir()))
    assert f"{count} files copied and verified, 0 there already" in first.stdout
    assert f"{count} files would be made" in planned.stdout
    assert f"0 files copied and verified, {count} there already" in run(*options).stdout
    assert f"{count} copies" in run("keepers", "receipts", "--logbook", logbook).stdout
    undone = run("keepers", "undo", receipt_of(first.stdout), "--logbook", logbook)
    assert f"{count} files removed, 1 empty folder removed" in undone.stdout
    assert not target.exists()
    assert "taken back" in run("keepers", "receipts", "--logbook", logbook).stdout


def test_a_copy_edited_since_is_listed_and_the_exit_code_says_so(logbook: Path, tmp_path: Path) -> None:
    target = tmp_path / "keepers"
    options = ("keepers", "copy", target, "--logbook", logbook, "--best", 1, "--json")
    document = json.loads(run(*options).stdout)
    edited = Path(document["made"][0])
    edited.write_bytes(b"edited")
    done = run("keepers", "undo", document["receipt"], "--logbook", logbook)
    assert done.returncode == 3
    assert "changed since it was made" in done.stdout
    assert list(target.iterdir()) == [edited]


@pytest.mark.parametrize("symbolic", [(), ("--symbolic",)])
def test_links_to_the_frames(tmp_path: Path, symbolic: tuple[str, ...]) -> None:
    card = tmp_path / "card"
    shutil.copytree(SAMPLE, card)
    book = tmp_path / "logbook.sqlite"
    assert run("scan", card, "--logbook", book).returncode == 0
    options = ("keepers", "link", tmp_path / "links", *symbolic, "--logbook", book, "--unclear", "--best", 1)
    done = run(*options, "--json")
    assert done.returncode == 0
    made = json.loads(done.stdout)["made"]
    assert made
    assert all(Path(path).samefile(next(card.rglob(Path(path).name))) for path in made)
    assert all(Path(path).is_symlink() is bool(symbolic) for path in made)


def test_sidecars_into_a_folder_and_beside_the_originals_only_when_asked(tmp_path: Path) -> None:
    card, book, marks = tmp_path / "card", tmp_path / "logbook.sqlite", tmp_path / "marks"
    shutil.copytree(SAMPLE, card)
    before = {path: path.read_bytes() for path in card.rglob("*") if path.is_file()}
    assert run("scan", card, "--logbook", book).returncode == 0
    options = ("--logbook", book, "--unclear", "--write-rating", 3, "--write-keyword", "keeper")
    done = run("keepers", "sidecars", marks, *options)
    assert "keep the rating they have" in done.stdout
    assert {path: path.read_bytes() for path in card.rglob("*") if path.is_file()} == before
    written = {path.relative_to(marks) for path in marks.rglob("*.xmp")}
    assert Path("DCIM/100SALT/F2A_0416.xmp") in written
    beside = run("keepers", "sidecars", "--beside-originals", *options)
    assert "beside the originals" in beside.stdout
    assert {path.relative_to(card) for path in card.rglob("*.xmp")} >= written
    assert all(path.read_bytes() == data for path, data in before.items() if path.suffix != ".xmp")
    run("keepers", "undo", receipt_of(beside.stdout), "--logbook", book)
    assert {path: path.read_bytes() for path in card.rglob("*") if path.is_file()} == before


def test_frames_that_have_gone_are_told_in_the_list_and_in_the_hand_over(tmp_path: Path) -> None:
    card, book = tmp_path / "card", tmp_path / "logbook.sqlite"
    card.mkdir()
    for path in sorted((SAMPLE / "DCIM" / "100SALT").glob("*.JPG"))[:3]:
        shutil.copy2(path, card)
    assert run("scan", card, "--logbook", book).returncode == 0
    gone = min(card.iterdir())
    gone.unlink()
    run("scan", card, "--logbook", book)
    options = ("--logbook", book, "--unclear", "--verdict", "hit", "--verdict", "miss")
    assert "no longer where they were: 1" in run("keepers", *options).stderr
    done = run("keepers", "copy", tmp_path / "keepers", *options)
    assert done.returncode == 3  # not all of them: a script must not empty the card now
    assert "no longer where they were: 1" in done.stderr
    assert len(list((tmp_path / "keepers").iterdir())) == 2


def test_a_contact_strip(logbook: Path, tmp_path: Path) -> None:
    page = tmp_path / "new" / "strip.html"
    done = run("keepers", "strip", page, "--logbook", logbook, "--best", 1)
    assert done.stdout.strip() == str(page)
    text = page.read_text(encoding="utf-8")
    assert text.count("<img ") == int(done.stderr.split()[0])
    assert run("keepers", "strip", SAMPLE / "strip.html", "--logbook", logbook).returncode == 1
    assert not (SAMPLE / "strip.html").exists()


@pytest.mark.parametrize(
    "options",
    [
        ("--from", "18.4.2026"),
        ("--to", "2026-02-30"),
        ("--word", "sharp"),
        ("--flag", "nothing"),
        ("--without-flag", "smaered"),
        ("--iso", "low"),
        ("--iso", "-5"),
        ("--rating", 7),
        ("--push", "-1"),
        ("--kit", "bogus"),
        ("--keyword", "oter"),
        ("--per", "trip"),
        ("copy",),
        ("copy", ""),
        ("link", " "),
        ("strip", ""),
        ("cpoy", "a"),
        ("undo", 1, "--dry-run"),
        ("sidecars", "--write-rating", 3),
        ("sidecars", "a", "--beside-originals", "--write-rating", 3),
        ("sidecars", "a"),
        ("sidecars", "a", "--write-rating", 6),
        ("sidecars", "a", "--write-keyword", "a\nb"),
        ("sidecars", "a", "--write-flag-keyword", "smeared"),
        ("sidecars", "a", "--write-flag-keyword", "nothing=x"),
        ("--write-rating", 3),
    ],
)
def test_values_that_cannot_be_meant_give_one_clear_line(
    logbook: Path, tmp_path: Path, options: tuple[object, ...]
) -> None:
    done = run("keepers", *options, "--logbook", logbook, cwd=tmp_path)
    assert done.returncode == 2
    assert error_line(done).startswith("auditor keepers")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("options", "nearest"),
    [
        (("--without-flag", "smaered"), "Did you mean 'smeared'?"),
        (("--word", "confirmd"), "Did you mean 'confirmed'?"),
        (("--keyword", "oter"), "Did you mean 'otter'?"),
        (("cpoy", "a"), "Did you mean 'copy'? See: auditor keepers --help"),
        (("--per", "scenes"), "Did you mean 'scene'?"),
        (("--best", "2", "copy", "a"), "conditions after it: auditor keepers copy --best 2"),
    ],
)
def test_a_word_that_is_none_is_refused_with_the_nearest(
    logbook: Path, options: tuple[str, ...], nearest: str
) -> None:
    assert nearest in run("keepers", *options, "--logbook", logbook).stderr


def test_frames_are_selected_as_in_every_other_table(logbook: Path) -> None:
    """The same selection lists the same frames."""
    for selected in (("--bare",), ("--converter", "2"), ("--day", "2026-04-18"), ("--kit", "1")):
        listed = json.loads(
            run("frames", *selected, "--verdict", "hit", "--json", "--logbook", logbook).stdout
        )
        kept = json.loads(run("keepers", *selected, "--json", "--logbook", logbook).stdout)["keepers"]
        assert [row["frame_id"] for row in kept] == [row["frame_id"] for row in listed]
        assert kept


def test_a_scanned_target_is_refused(logbook: Path) -> None:
    done = run("keepers", "copy", SAMPLE / "new", "--logbook", logbook)
    assert done.returncode == 1
    assert "never written to" in done.stderr
    assert not (SAMPLE / "new").exists()


@pytest.mark.parametrize("command", ["list", "copy", "link", "sidecars", "strip", "receipts", "undo"])
def test_help_fits_80_columns_and_is_not_cut(command: str) -> None:
    done = run("keepers", command, "--help")
    assert done.returncode == 0
    assert max(len(line) for line in done.stdout.splitlines()) <= 80
    assert not any(line.endswith("...") for line in run("keepers", "--help").stdout.splitlines()[1:])
    assert "FOLDER" in run("keepers", "copy", "--help").stdout


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
    assert "1 picture could not be decoded" in done.stdout
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


def test_pictures_out_of_reach_are_promised_to_a_list_that_has_them(tmp_path: Path) -> None:
    card, book = tmp_path / "card", tmp_path / "logbook.sqlite"
    card.mkdir()
    for path in sorted((SAMPLE / "DCIM" / "100SALT").glob("*.JPG"))[:11]:
        shutil.copy2(path, card)
    assert run("scan", card, "--logbook", book).returncode == 0
    card.rename(tmp_path / "aside")
    done = run("measure", "--logbook", book)
    assert done.returncode == 3
    assert "11 pictures could not be reached now" in done.stdout
    assert f"and 1 more: auditor check --json --logbook {book} lists them all\n" in done.stdout
    listed = run("check", "--logbook", book, "--json").stdout
    assert len(json.loads(listed)["out_of_reach"]) == 11
