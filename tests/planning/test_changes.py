"""What would put another kit first: the nearest step of light or distance that does, found one by one."""

from dataclasses import replace

import pytest

from auditor.planning.gear import kits_to_mount
from auditor.planning.outing import Outing
from auditor.planning.outlook import outlook
from auditor.planning.plan import Change, plan
from auditor.planning.record import OwnRate
from tests.planning.kits import used
from tests.planning.test_ranking import rate

KITS = kits_to_mount([used(1), used(2, factor=1.4), used(3, factor=2.0)])
RATES = {1: rate(0.75), 2: rate(0.7), 3: rate(0.55)}
BRIGHTER, DARKER = [(stops, 1.0) for stops in (1, 2, 3)], [(-stops, 1.0) for stops in (1, 2, 3)]
NEARER, FARTHER = [(0, share) for share in (0.8, 0.6, 0.4)], [(0, share) for share in (1.25, 1.6, 2.5)]


def moved(outing: Outing, stops: float, share: float) -> Outing:
    return replace(outing, light_ev=outing.light_ev + stops, distance_m=outing.distance_m * share)


def first_by_hand(outing: Outing, rates: dict[int, OwnRate]) -> float:
    """The factor of the kit of which most is left: the share of hits over the finest detail, of those that
    the animal fits; of none the one with the widest view."""
    left, share = {}, {}
    for kit in KITS:
        look = outlook(kit, outing)
        share[kit.converter_factor] = look.frame_share
        if look.fits and look.finest_detail_mm is not None and kit.kit_id is not None:
            left[kit.converter_factor] = round(rates[kit.kit_id].expected / look.finest_detail_mm, 9)
    if not left:
        return min(share, key=lambda factor: share[factor])
    return max(left, key=lambda factor: (left[factor], -factor))


@pytest.mark.parametrize("light_ev", [4.0, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0, 14.0])
@pytest.mark.parametrize("length_m", [0.2, 0.9, 1.3])
def test_the_nearest_step_that_turns_the_order_is_told(light_ev: float, length_m: float) -> None:
    outing = Outing(length_m=length_m, distance_m=30, light_ev=light_ev, exposure_time_s=1 / 1000)
    first = first_by_hand(outing, RATES)
    expected = []
    for steps in (BRIGHTER, DARKER, NEARER, FARTHER):
        others = (moved(outing, *step) for step in steps)
        turned = next((other for other in others if first_by_hand(other, RATES) != first), None)
        if turned is not None:
            expected.append((turned.light_ev, turned.distance_m, first_by_hand(turned, RATES)))
    answer = plan(KITS, outing, lambda _light_ev: RATES)
    assert answer.ranked[0].outlook.kit.converter_factor == first
    assert [said(change) for change in answer.changes] == [pytest.approx(row) for row in expected]


def said(change: Change) -> tuple[float, float, float]:
    return change.light_ev, change.distance_m, change.best.converter_factor
