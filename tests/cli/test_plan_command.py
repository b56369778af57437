"""auditor plan."""

import json
import shutil
from pathlib import Path

import pytest

from tests.cli import program
from tests.cli.program import error_line
from tests.frame_files import Shot, write_card

SAMPLE = Path(__file__).resolve().parents[2] / "sample_images"


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("plan") / "logbook.sqlite"
    done = program.run("scan", SAMPLE, "--logbook", path, "--quiet")
    assert done.returncode == 0, done.stderr
    return path


def run(logbook: Path, *words: str) -> tuple[int, str]:
    done = program.run("plan", *words, "--logbook", logbook)
    return done.returncode, done.stdout


def test_it_ranks_the_kits_of_the_logbook(logbook: Path) -> None:
    code, text = run(logbook, "--animal", "heron", "--distance", "40", "--light", "overcast", "--json")
    assert code == 0
    ranked = json.loads(text)["ranked"]
    assert [row["rank"] for row in ranked] == list(range(1, len(ranked) + 1))
    assert len(ranked) == 6, "two bodies with their lens, each bare and behind both converters"
    assert all(row["outlook"]["iso"] >= 100 for row in ranked)


def test_something_to_buy_stands_beside_what_is_owned(logbook: Path) -> None:
    code, text = run(logbook, "--length", "0.3", "--distance", "40", "--light", "12", "--buy", "600 mm f/4")
    assert code == 0
    assert "600 mm*" in text
    assert "* not owned" in text


PHONE = Shot(
    number=2, model="Pocket", serial=None, lens="Pocket back camera 5.4mm f/1.8", focal_mm=5.4, f_number=1.8,
    crop=4.8, after_s=900.0, side_px=2000,
)  # fmt: skip


def test_a_phone_is_not_ranked_until_it_is_said_to_be_none(tmp_path: Path) -> None:
    """Nobody mounts a phone; neither does a lens to buy go on one."""
    write_card(tmp_path / "card", [Shot(number=1, side_px=2000), PHONE])
    book = tmp_path / "logbook.sqlite"
    program.run("scan", tmp_path / "card", "--logbook", book)
    outing = ("--length", "0.3", "--distance", "6", "--light", "12", "--buy", "600 mm f/4")
    told = run(book, *outing)[1]
    assert "Not ranked: Pocket, a phone by sensor and lens." in told
    answer = json.loads(run(book, *outing, "--json")[1])
    assert answer["phones"] == ["Pocket"]
    assert {row["kit_name"] for row in answer["ranked"]} == {"Body One 500 mm", "Body One 600 mm"}
    program.run("declare", "hints", "--reject", "1", "--logbook", book)
    answer = json.loads(run(book, *outing, "--json")[1])
    assert answer["phones"] == []
    assert "Pocket 5.4 mm" in {row["kit_name"] for row in answer["ranked"]}
    program.run("declare", "undo", "1", "--logbook", book)
    program.run("declare", "hints", "--accept", "1", "--logbook", book)
    answer = json.loads(run(book, *outing, "--json")[1])
    assert (answer["phones"], len(answer["ranked"])) == ([], 2)


def test_where_there_is_nothing_but_a_phone_it_is_ranked(tmp_path: Path) -> None:
    write_card(tmp_path / "card", [PHONE])
    book = tmp_path / "logbook.sqlite"
    program.run("scan", tmp_path / "card", "--logbook", book)
    answer = json.loads(run(book, "--length", "0.3", "--distance", "6", "--light", "12", "--json")[1])
    assert (answer["phones"], len(answer["ranked"])) == ([], 1)


def test_a_trip_of_ones_own_gives_light_and_distance(logbook: Path) -> None:
    code, text = run(logbook, "--animal", "heron", "--trip-like", "1", "--json")
    assert code == 0
    outing = json.loads(text)["outing"]
    assert 6 < outing["light_ev"] < 15
    assert outing["distance_m"] > 5


def test_the_animals_height_and_the_weight_are_told(logbook: Path, tmp_path: Path) -> None:
    book = tmp_path / "logbook.sqlite"
    shutil.copy(logbook, book)
    for words in (
        ("780 g", "--body", "Saltmark F2"), ("3.1 kg", "--lens", "500 mm"), ("330 g", "--converter", "2"),
    ):  # fmt: skip
        done = program.run("declare", "weight", *words, "--logbook", book)
        assert done.returncode == 0, done.stderr
    code, text = run(book, "--animal", "heron", "--distance", "40", "--light", "12", "--json")
    assert code == 0
    rows = {row["kit_name"]: row for row in json.loads(text)["ranked"]}
    assert rows["F2 500 mm x 2"]["weight_g"] == 780 + 3100 + 330
    assert rows["F2 500 mm x 1.4"]["weight_g"] is None
    assert rows["F2 500 mm x 1.4"]["weight_not_given"] == ["converter"]
    look = rows["F2 500 mm"]["outlook"]
    assert look["animal_height_px"] / look["animal_px"] == pytest.approx(0.80 / 0.94)
    code, text = run(book, "--length", "0.3", "--distance", "40", "--light", "12", "--json")
    assert json.loads(text)["ranked"][0]["outlook"]["animal_height_px"] is None
    undone = program.run("declare", "undo", "1", "--logbook", book)
    assert undone.returncode == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["850"], "WEIGHT: a weight is written as 850 g or 3.2 kg, not '850'"),
        (["850 g", "--converter", "2"], "--body, --lens and --converter: give one of the three"),
    ],
)
def test_a_weight_that_cannot_be_meant(logbook: Path, words: list[str], said: str) -> None:
    done = program.run("declare", "weight", *words, "--lens", "500", "--logbook", logbook)
    assert done.returncode == 2
    assert said in error_line(done)


@pytest.mark.parametrize(("lens", "said"), [("800", "No lens"), ("mm", "2 lenses")])
def test_a_lens_to_weigh_must_be_one_of_the_logbook(logbook: Path, lens: str, said: str) -> None:
    done = program.run("declare", "weight", "3 kg", "--lens", lens, "--logbook", logbook)
    assert done.returncode == 1
    assert said in error_line(done)
    assert "Saltmark 500mm f/5.6" in error_line(done)


def test_the_page_runs_nothing_and_replaces_nothing(logbook: Path, tmp_path: Path) -> None:
    page = tmp_path / "plan.html"
    words = ("--animal", "heron", "--distance", "40", "--light", "12", "--page", str(page))
    assert run(logbook, *words)[0] == 0
    html = page.read_text(encoding="utf-8")
    assert "script-src &#39;none&#39;" in html
    assert html.count('class="asked"') == 1
    assert "Local rules" in html
    assert "exists already" in error_line(program.run("plan", *words, "--logbook", logbook))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--animal", "heronn"], "--animal: no animal named 'heronn'. Did you mean heron?"),
        (["--length", "0.3", "--distance", "0"], "--distance: it must be 0.3 to 10000, not 0."),
        (["--length", "0.3", "--distance", "nan"], "--distance: it must be 0.3 to 10000, not nan."),
        (["--length", "0.3", "--distance", "near"], "'--distance': it must be a valid number, not 'near'."),
        (["--length", "0.3", "--distance", "1"], "--distance: it must be over four focal lengths"),
        (["--length", "-0.3"], "--length: it must be 0.005 to 50, not -0.3."),
        (["--length", "0"], "--length: it must be 0.005 to 50, not 0."),
        (["--length", "0.3", "--speed", "-3"], "--speed: it must be 0 to 120, not -3."),
        (["--length", "0.3", "--light", "99"], "--light: it must be -6 to 20, not 99."),
        (["--length", "0.3", "--light", "gloomy"], "--light: no light named 'gloomy'."),
        (["--length", "0.3", "--shutter", "0"], "--shutter: it must be 0.00001 to 60, not 0."),
        (["--length", "0.3", "--shutter", "fast"], "--shutter: a shutter speed is written as 1/1000 or 0.5"),
        (["--length", "0.3", "--buy", "600 mm f/0"], "--buy: a lens must be 1 to 5000 mm"),
        (["--length", "0.3", "--buy", "long"], "--buy: a lens is written as 600 mm f/4"),
        (["--length", "0.3", "--buy-converter", "9"], "less than or equal to 3, not '9'."),
        ([], "--animal and --length: give one of the two."),
        (["--animal", "heron", "--length", "0.3"], "--animal and --length: give one of the two."),
        (["--animal", "heron", "--moving", "--speed", "3"], "--moving: it goes with --animal"),
    ],
)
def test_what_cannot_be_planned_is_said_in_one_line(logbook: Path, words: list[str], said: str) -> None:
    usual = [] if "--distance" in words else ["--distance", "40"]
    usual += [] if "--light" in words else ["--light", "12"]
    done = program.run("plan", *usual, *words, "--logbook", logbook)
    assert done.returncode == 2
    assert error_line(done).startswith("auditor plan: ")
    assert said in error_line(done)


def test_light_alone_is_not_enough(logbook: Path) -> None:
    done = program.run("plan", "--length", "0.3", "--light", "12", "--logbook", logbook)
    assert "--distance and --light: give both, or --trip-like" in error_line(done)
