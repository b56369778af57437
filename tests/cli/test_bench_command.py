"""auditor bench."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from auditor.cli.main import app


def run(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(app, list(words))
    return result.exit_code, result.output


def test_from_an_invented_card_to_an_answer(tmp_path: Path) -> None:
    card = tmp_path / "bench"
    assert run("demo", str(card), "--bench")[0] == 0
    code, text = run("bench", *map(str, sorted(card.iterdir())), "--json")
    assert code == 0
    document = json.loads(text)
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
        (["nothing.jpg", "--region", "1,2,3"], 2, "left,top,width,height"),
    ],
)
def test_what_cannot_be_measured_is_said(words: list[str], code: int, said: str) -> None:
    given, text = run("bench", *words)
    assert given == code
    assert said in " ".join(text.split())
