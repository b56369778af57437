"""auditor bench."""

import json
from pathlib import Path

import pytest

from tests.cli import program
from tests.cli.program import error_line


def test_from_an_invented_card_to_an_answer(tmp_path: Path) -> None:
    card = tmp_path / "bench"
    assert program.run("demo", card, "--bench").returncode == 0
    done = program.run("bench", *sorted(card.iterdir()), "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert len(document["kits"]) == 3
    assert {row["word"] for row in document["comparisons"]} <= {
        "resolves_more",
        "resolves_less",
        "no_difference",
    }


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ([], 2, "--target"),
        (["nothing.jpg"], 1, "nothing.jpg"),
        (["nothing.jpg", "--region", "1,2,3"], 2, "left,top,width,height in px, not '1,2,3'"),
        (
            ["nothing.jpg", "--region", "0,0,9,9"],
            2,
            "20 px or more to a side, inside the picture, not '0,0,9,9'",
        ),
        (["--target", "target.pdf", "--distance", "0"], 2, "--distance: it must be 1 to 200, not 0"),
        (["--target", "target.doc"], 1, ".svg or .pdf"),
    ],
)
def test_what_cannot_be_measured_is_said(tmp_path: Path, words: list[str], code: int, said: str) -> None:
    done = program.run("bench", *words, cwd=tmp_path)
    assert done.returncode == code
    if words == ["nothing.jpg"]:
        assert said in done.stdout
    else:
        assert said in error_line(done)
    assert list(tmp_path.iterdir()) == []
