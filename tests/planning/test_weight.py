"""What kits weigh, where it was given."""

import pytest

from auditor.frames.declared import Declared
from auditor.planning.gear import kits_to_mount, parse_lens, parse_weight_g
from auditor.planning.outing import Outing
from auditor.planning.plan import plan
from auditor.report.text.plan import not_weighed, view_table
from auditor.store.declared_facts import Said, WeightFacts
from tests.planning.kits import used

BODY = Said(facts=WeightFacts(weight_g=800), body="F2")
LENS = Said(facts=WeightFacts(weight_g=3000, lens="500mm f/5.6"))
CONVERTER = Said(facts=WeightFacts(weight_g=250, converter_factor=2.0))
OUTING = Outing(length_m=0.35, distance_m=30, light_ev=14)


def test_a_kit_weighs_what_its_parts_weigh() -> None:
    bare, large = kits_to_mount([used(1), used(2, factor=2.0)], declared=Declared([BODY, LENS, CONVERTER]))
    assert (bare.weight_g, large.weight_g) == (3800, 4050)
    assert large.not_weighed == ()


def test_where_one_part_was_not_weighed_the_whole_is_not_known() -> None:
    bare, large = kits_to_mount([used(1), used(2, factor=2.0)], declared=Declared([BODY, LENS]))
    assert bare.weight_g == 3800
    assert large.weight_g is None
    assert large.not_weighed == ("converter",)
    answer = plan([bare, large], OUTING)
    assert {row[-1] for row in view_table(answer)} == {"Weight", "3.80 kg", "unknown"}
    assert not_weighed(answer) == "No weight given for 1 of 2 kits (converter): auditor declare weight."


def test_without_any_weight_there_is_no_column() -> None:
    answer = plan(kits_to_mount([used(1)]), OUTING)
    assert "Weight" not in view_table(answer)[0]
    assert not_weighed(answer) == "No weight given for 1 of 1 kits (body, lens): auditor declare weight."


def test_the_last_weight_that_was_said_counts() -> None:
    again = Said(facts=WeightFacts(weight_g=2900, lens="500mm f/5.6"))
    (bare,) = kits_to_mount([used(1)], declared=Declared([BODY, LENS, again]))
    assert bare.weight_g == 3700


@pytest.mark.parametrize(("text", "weight_g"), [("850 g", 850), ("3.2 kg", 3200), (" 3kg ", 3000)])
def test_a_weight_as_it_is_written(text: str, weight_g: float) -> None:
    assert parse_weight_g(text) == weight_g


@pytest.mark.parametrize("text", ["850", "3 lb", "0 g", "-1 kg", "900 kg", ""])
def test_no_weight_is_refused_with_its_value(text: str) -> None:
    with pytest.raises(ValueError, match=repr(text)):
        parse_weight_g(text)


@pytest.mark.parametrize("text", ["600 mm f/4 3.1 kg", "600mm f4, 3100 g"])
def test_a_lens_to_buy_may_bring_its_weight(text: str) -> None:
    lens = parse_lens(text)
    assert (lens.name, lens.weight_g) == ("600 mm f/4", 3100)


def test_a_converter_to_buy_is_not_owned() -> None:
    bare, considered = kits_to_mount([used(1)], considered_factors=[1.4])
    assert (bare.considered, considered.considered) == (False, True)
