"""What was declared, said as one sentence each."""

from __future__ import annotations

from typing import Any

import pytest

from auditor.report.text.declarations import BODY_FACTS, sentence, taking_back
from auditor.store.declared_facts import (
    KINDS,
    BodyFacts,
    ClockFacts,
    ConverterFacts,
    ElsewhereFacts,
    ExcludeFacts,
    Facts,
    LensFacts,
    RejectedFacts,
    Said,
    Span,
    TripFacts,
    WeightFacts,
)

NAMES = {"1001": "S2"}
BURSTS = (Span("2026-04-18T09:26:01", "2026-04-18T09:26:03"), Span("2026-04-18T11:14:00", "2026-04-18T11:14"))
MORNING = ("2026-04-18T05:50:00", "2026-04-18T09:30:59.999999")
DAYS = ("2026-04-18T00:00:00", "2026-04-19T23:59:59.999999")


@pytest.mark.parametrize(
    ("facts", "span", "told"),
    [
        (ConverterFacts(factor=1.4), MORNING, "A 1.4x converter was on S2, 18 April 2026, 05:50 to 09:30"),
        (ConverterFacts(factor=1.0), None, "No converter was on S2 at all times"),
        (
            ConverterFacts(factor=2.0, bursts=BURSTS),
            None,
            "A 2x converter was on S2 in 2 bursts, 18 April 2026, 09:26 to 11:14",
        ),
        (
            ConverterFacts(factor=2.0, bursts=BURSTS[:1]),
            None,
            "A 2x converter was on S2 in 1 burst, 18 April 2026, 09:26",
        ),
        (BodyFacts(iso_ceiling=3200.0), None, "S2: the highest ISO that you accept is 3200"),
        (
            BodyFacts(focus_limit_f_number=8.0, auto_iso=True),
            None,
            "S2: it focuses well up to f/8 and its ISO was on auto in manual exposure",
        ),
        (ClockFacts(offset_s=3600.0), DAYS, "The clock of S2 was 1 hour behind, 18 to 19 April 2026"),
        (
            ClockFacts(offset_s=-150.0),
            None,
            "The clock of S2 was 2 minutes and 30 seconds ahead at all times",
        ),
        (TripFacts(name="Estuary"), MORNING, "The trip of 18 April 2026 is called Estuary"),
        (
            TripFacts(name="Estuary", fixed=True),
            ("2026-04-18T05:50:00", "2026-04-19T19:10:00"),
            "The trip Estuary covers 18 April 2026, 05:50 to 19 April 2026, 19:10",
        ),
        (TripFacts(name="Estuary", fixed=True), DAYS, "The trip Estuary covers 18 to 19 April 2026"),
        (ExcludeFacts(), None, "Every frame of S2 is left out"),
        (ExcludeFacts(), DAYS, "Frames of S2 are left out, 18 to 19 April 2026"),
        (ExcludeFacts(paths=("/c/tests",)), None, "Left out: /c/tests"),
        (ExcludeFacts(paths=("/c/A.JPG", "/c/B.JPG")), None, "Left out: A.JPG and B.JPG in /c"),
        (
            ExcludeFacts(paths=tuple(f"/c/{n}.JPG" for n in range(5))),
            None,
            "Left out: 0.JPG, 1.JPG and 3 more in /c",
        ),
        (ExcludeFacts(paths=("/c/A.JPG", "/d/B.JPG")), None, "Left out: /c/A.JPG and /d/B.JPG"),
        (ElsewhereFacts(), None, "More frames of S2 are on another card or disk at all times"),
        (WeightFacts(weight_g=780.0), None, "S2 weighs 780 g"),
        (WeightFacts(weight_g=3100.0, lens="500mm f/5.6"), None, "The lens 500mm f/5.6 weighs 3100 g"),
        (WeightFacts(weight_g=330.0, converter_factor=1.4), None, "The 1.4x converter weighs 330 g"),
        (
            RejectedFacts(about="converter", value=1.4, bursts=BURSTS),
            None,
            "No 1.4x converter went unreported on S2 in 2 bursts, 18 April 2026, 09:26 to 11:14",
        ),
        (
            RejectedFacts(about="clock", value=-7200.0),
            DAYS,
            "The clock of S2 was not 2 hours ahead, 18 to 19 April 2026",
        ),
        (LensFacts(lens="X 5/F4", name="Long 5mm f/4"), None, "X 5/F4 on S2 is another name of Long 5mm f/4"),
        (
            RejectedFacts(about="lens", lenses=("X 5/F4", "Long 5mm f/4")),
            None,
            "X 5/F4 on S2 is another lens than Long 5mm f/4",
        ),
        (RejectedFacts(about="date"), DAYS, "The dates of S2 are right, 18 to 19 April 2026"),
        (RejectedFacts(about="phone"), None, "The frames of S2 are not left out"),
    ],
)
def test_what_was_said_is_one_sentence(facts: Facts, span: tuple[str, str] | None, told: str) -> None:
    from_at, to_at = span or (None, None)
    assert sentence(Said(facts=facts, body="1001", from_at=from_at, to_at=to_at), NAMES) == told


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_a_sentence(kind: str) -> None:
    least: dict[str, dict[str, Any]] = {
        "body": {"base_iso": 100.0},
        "clock": {"offset_s": 60.0},
        "converter": {"factor": 1.4},
        "lens": {"lens": "X 500/5.6", "name": "Long 500mm f/5.6"},
        "rejected_hint": {"about": "phone"},
        "trip": {"name": "Estuary"},
        "weight": {"weight_g": 1.0},
    }
    assert sentence(Said(facts=KINDS[kind](**least.get(kind, {})), body="S2"), {})


def test_every_fact_of_a_body_has_words() -> None:
    assert set(BODY_FACTS) == set(BodyFacts.__dataclass_fields__)


def test_taking_back_says_what_it_changes() -> None:
    assert taking_back(1, asked_again=False) == "Taking it back changes 1 frame."
    assert taking_back(0, asked_again=False) == "Taking it back changes no frame."
    assert taking_back(0, asked_again=True) == "Taking it back changes no frame; it may be asked about again."
