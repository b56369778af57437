"""One lens under two names: what was said or measured under either is found under both."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from auditor.planning.own_kits import benched_kits
from auditor.store import bench
from auditor.store.logbook import open_logbook
from tests.cli.program import error_line, run
from tests.frame_files import Shot, write_card

DAY_S = 24 * 3600.0
OLD, NEW = "Long 180-400mm f/5.6", "LG AF 180-400mm F5.6 VC"
OUTING = ("--length", "0.3", "--distance", "30", "--light", "14", "--json")


def shot(number: int, day: float, lens: str, model: str = "Body One", serial: str = "1001") -> Shot:
    return Shot(
        number=number,
        after_s=day * DAY_S,
        lens=lens,
        focal_mm=400.0,
        side_px=2000,
        model=model,
        serial=serial,
    )


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    """A lens that Body One calls otherwise from May on; nothing is said of it yet."""
    write_card(tmp_path / "card", [shot(1, 0, OLD), shot(2, 1, OLD), shot(3, 30, NEW), shot(4, 31, NEW)])
    path = tmp_path / "logbook.sqlite"
    assert run("scan", tmp_path / "card", "--logbook", path, "--quiet").returncode == 0
    return path


def accept(logbook: Path) -> None:
    done = run("declare", "hints", "--accept", "1", "--logbook", logbook)
    assert done.returncode == 0, done.stderr


def planned(logbook: Path) -> list[dict[str, Any]]:
    done = run("plan", *OUTING, "--logbook", logbook)
    assert done.returncode == 0, done.stderr
    ranked: list[dict[str, Any]] = json.loads(done.stdout)["ranked"]
    return ranked


def weigh(logbook: Path, lens: str, weight: str = "3 kg") -> None:
    done = run("declare", "weight", weight, "--lens", lens, "--logbook", logbook)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("name", [OLD, NEW])
def test_a_weight_given_under_either_name_counts_until_the_names_are_told_apart_again(
    logbook: Path, name: str
) -> None:
    weigh(logbook, name)
    assert [row["weight_not_given"] for row in planned(logbook)].count(["body"]) == 1
    accept(logbook)
    (kit,) = planned(logbook)
    assert kit["weight_not_given"] == ["body"]
    newest = json.loads(run("declare", "list", "--json", "--logbook", logbook).stdout)[-1]["declaration_id"]
    assert run("declare", "undo", newest, "--logbook", logbook).returncode == 0
    assert sorted(row["weight_not_given"] for row in planned(logbook)) == [["body"], ["body", "lens"]]


@pytest.mark.parametrize(("typed", "kept"), [(OLD, OLD), (NEW, NEW), ("lg af", NEW), ("180-400", OLD)])
def test_a_weight_can_be_given_under_either_name_afterwards(logbook: Path, typed: str, kept: str) -> None:
    accept(logbook)
    weigh(logbook, typed)
    assert f"The lens {kept} weighs 3000 g" in run("declare", "list", "--logbook", logbook).stdout
    (kit,) = planned(logbook)
    assert kit["weight_not_given"] == ["body"]


def test_of_weights_under_two_names_the_last_counts(logbook: Path) -> None:
    for name, weight in ((NEW, "2.9 kg"), (OLD, "3.1 kg")):
        weigh(logbook, name, weight)
    run("declare", "weight", "900 g", "--body", "Body One", "--logbook", logbook)
    accept(logbook)
    (kit,) = planned(logbook)
    assert kit["weight_g"] == 4000


def test_two_lenses_are_two_as_long_as_nothing_is_said(logbook: Path) -> None:
    done = run("declare", "weight", "3 kg", "--lens", "180-400", "--logbook", logbook)
    assert done.returncode == 1
    assert f"2 lenses of the logbook are named '180-400'. It has: {NEW}; {OLD}." in error_line(done)


def benched(lens: str, cycles_per_mrad: float, factor: float = 1.0) -> bench.BenchResult:
    return bench.BenchResult(
        body_make="Testmaker", body_model="Body One", body_serial="1001", lens_name=lens,
        converter_factor=factor, focal_length_mm=400.0 * factor, f_number=5.6 * factor, pixel_pitch_um=18.0,
        shots=5, cycles_per_mrad=cycles_per_mrad, repeatability=0.02,
    )  # fmt: skip


@pytest.mark.parametrize("name", [OLD, NEW, "LG AF 180-400MM F/5.6 VC"])  # the last as a file spells it
def test_what_a_bench_measured_under_either_name_is_planned_with(logbook: Path, name: str) -> None:
    accept(logbook)
    (assumed,) = planned(logbook)
    with open_logbook(logbook) as book, book.writing():
        bench.keep(book, [benched(name, 2.0)])
    (measured,) = planned(logbook)
    assert measured["outlook"]["finest_detail_mm"] > 1.5 * assumed["outlook"]["finest_detail_mm"]


def test_a_kit_that_was_on_a_bench_under_both_names_has_one_result(logbook: Path) -> None:
    with open_logbook(logbook) as book:
        with book.writing():
            bench.keep(book, [benched(NEW, 2.0), benched(OLD, 3.0), benched(NEW, 4.0)])
        told = [(result.lens_name, result.cycles_per_mrad) for result in benched_kits(book)]
        assert told == [(OLD, 3.0), (NEW, 4.0)]
    accept(logbook)
    with open_logbook(logbook) as book:
        assert [(result.lens_name, result.cycles_per_mrad) for result in benched_kits(book)] == [(OLD, 4.0)]


@pytest.mark.parametrize(
    "kit", [f"Body One + {NEW}", f"Body One + {OLD}", f"Body One {NEW}", "Body One 180-400 mm"]
)
def test_a_kit_is_chosen_under_either_name(logbook: Path, kit: str) -> None:
    accept(logbook)
    done = run("frames", "--all-trips", "--kit", kit, "--json", "--logbook", logbook)
    assert done.returncode == 0, done.stderr
    assert len(json.loads(done.stdout)) == 4


def test_a_kit_that_is_none_is_refused_with_the_name_to_type(logbook: Path) -> None:
    accept(logbook)
    done = run("frames", "--all-trips", "--kit", "Body One + LG AF 300mm F4", "--logbook", logbook)
    assert done.returncode == 2
    assert "there is no kit 'Body One + LG AF 300mm F4'" in done.stderr
