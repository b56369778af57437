"""Kits for an outing, the best first, each with its reason; and what would change the order."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from auditor.planning.gear import PlannedKit
from auditor.planning.outing import DISTANCES_M, Outing
from auditor.planning.outlook import Outlook, outlook
from auditor.planning.record import OwnRate

AS_FINE = 0.05
"""Detail within this share counts as equally fine: no photographer sees less."""
USUAL_RATE = 0.6
"""Of a kit without a record, so that one can be ranked at all (assumed, and said)."""


class Reason(StrEnum):
    """Why a kit stands where it does."""

    FINEST = "finest"
    """It shows the finest detail on the animal."""
    FINEST_OF_USABLE = "finest_of_usable"
    """The finest detail of the kits that can be used here; one that cannot would show finer."""
    ALONE = "alone"
    """No other kit can be used here."""
    AS_FINE_SHARPER = "as_fine_sharper"
    """As fine as the finest, and more of its frames hit."""
    AS_FINE_FEWER = "as_fine_fewer"
    """As fine as the first, but fewer of its frames hit."""
    AS_FINE_LESS_ISO = "as_fine_less_iso"
    """Nearly as fine as the first, at less ISO."""
    NEARLY_AS_FINE = "nearly_as_fine"
    """Nearly as fine as the first, and nothing else speaks for it."""
    COARSER = "coarser"
    """It shows less detail."""
    MOST_LEFT = "most_left"
    """Not the finest, but more of its frames hit, so that most detail is left over all of them."""
    FEWER_SHARP = "fewer_sharp"
    """It shows more, but so many fewer of its frames hit that less is left."""
    CUT_OFF = "cut_off"
    """The animal does not fit the frame."""
    NO_FOCUS = "no_focus"
    """Too dark, even wide open, for the body to focus."""
    TOO_DARK = "too_dark"
    """Too little light to show any detail."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranked:
    """A kit in its place."""

    rank: int
    outlook: Outlook
    own: OwnRate | None
    """The photographer's own hit rate in like light; None for no record."""
    sharp_of_100: float | None
    """To expect, from the own rate; None without one."""
    left: float
    """Detail left over all frames, as a share of the first kit's; 0 where the kit cannot be used."""
    reason: Reason


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Another kit would come first if the light or the distance were another."""

    light_ev: float
    distance_m: float
    best: PlannedKit


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Kits for an outing."""

    outing: Outing
    ranked: list[Ranked]
    changes: list[Change]
    phones: tuple[str, ...] = ()
    """Bodies that are not ranked: phones by sensor and lens."""


RatesAt = Callable[[float], Mapping[int, OwnRate]]
"""Own hit rates by kit id, for a light in EV."""


def no_record(_light_ev: float) -> Mapping[int, OwnRate]:
    """The rates of a photographer who has none.

    Parameters
    ----------
    _light_ev
        Of no account.

    Returns
    -------
    Mapping[int, OwnRate]
        Empty.
    """
    return {}


def plan(
    kits: Sequence[PlannedKit], outing: Outing, rates_at: RatesAt = no_record, *, phones: Sequence[str] = ()
) -> Plan:
    """Rank kits for an outing.

    Kits on which the body does not focus, or in which the animal does not fit, come last. The others
    are ranked by what is left of detail: its fineness on the animal times the share of frames to hit.

    Parameters
    ----------
    kits
        That could be mounted.
    outing
        Animal, distance, light and shutter.
    rates_at
        Own hit rates by kit id, in a light given in EV.
    phones
        What bodies are called that are not among the kits because they are phones.

    Returns
    -------
    Plan
        Kits in their order, each with its outlook.

    Raises
    ------
    ValueError
        for an animal nearer than a lens forms an image.
    """
    ranked = _ranked(kits, outing, rates_at(outing.light_ev))
    changes = _changes(kits, outing, rates_at, ranked)
    return Plan(outing=outing, ranked=ranked, changes=changes, phones=tuple(phones))


def best_kit(kits: Sequence[PlannedKit], outing: Outing, rates: Mapping[int, OwnRate]) -> Outlook | None:
    """The outlook of the kit that would come first; None without kits.

    Parameters
    ----------
    kits
        That could be mounted.
    outing
        Animal, distance, light and shutter.
    rates
        Own hit rates by kit id.

    Returns
    -------
    Outlook or None
        Ranked as in `plan`.
    """
    looks = sorted((outlook(kit, outing) for kit in kits), key=lambda look: _order(look, rates))
    return looks[0] if looks else None


MAP_LIGHTS_EV = tuple(float(ev) for ev in range(15, 3, -1))
"""From bright sun to deep dusk."""
MAP_DISTANCES = (0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0)
"""As shares of the distance that was asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KitMap:
    """Which kit is best where: over light and distance."""

    lights_ev: tuple[float, ...]
    distances_m: tuple[float, ...]
    best: list[list[PlannedKit | None]]
    """A row a light, a column a distance; None where no kit can be used."""


def kit_map(kits: Sequence[PlannedKit], outing: Outing, rates_at: RatesAt = no_record) -> KitMap:
    """The best kit for the outing's animal over light and distance.

    Parameters
    ----------
    kits
        That could be mounted.
    outing
        Its own light and distance do not count.
    rates_at
        Own hit rates by kit id, in a light given in EV.

    Returns
    -------
    KitMap
        Steps of light across, distances down, and the kit at each.
    """
    near_m, far_m = DISTANCES_M
    distances_m = tuple(
        metres
        for share in MAP_DISTANCES
        if near_m <= (metres := round(outing.distance_m * share, 1)) <= far_m
    )
    best = []
    for light_ev in MAP_LIGHTS_EV:
        rates = rates_at(light_ev)
        best.append(
            [_usable_best(kits, replace(outing, light_ev=light_ev, distance_m=m), rates) for m in distances_m]
        )
    return KitMap(lights_ev=MAP_LIGHTS_EV, distances_m=distances_m, best=best)


def _usable_best(
    kits: Sequence[PlannedKit], outing: Outing, rates: Mapping[int, OwnRate]
) -> PlannedKit | None:
    near = [kit for kit in kits if outing.distance_m * 1000 > 4 * kit.lens.focal_length_mm]
    look = best_kit(near, outing, rates)
    return look.kit if look is not None and _usable(look) else None


def _rate(look: Outlook, rates: Mapping[int, OwnRate]) -> float:
    own_rate = rates.get(look.kit.kit_id) if look.kit.kit_id is not None else None
    return USUAL_RATE if own_rate is None else own_rate.expected


def _left(look: Outlook, rates: Mapping[int, OwnRate]) -> float:
    """Detail on the animal over all frames: its fineness times the share of frames to hit."""
    return _rate(look, rates) / look.finest_detail_mm if look.finest_detail_mm else 0.0


def _usable(look: Outlook) -> bool:
    return look.fits and not look.beyond_focus_limit and look.finest_detail_mm is not None


def _order(look: Outlook, rates: Mapping[int, OwnRate]) -> tuple[float, ...]:
    left = _left(look, rates)
    if not look.fits:
        return (2, look.frame_share)
    # Equally good kits: the one without glass in between, then the lower ISO.
    return (0 if _usable(look) else 1, -round(left, 9), look.kit.converter_factor, look.iso)


def _ranked(kits: Sequence[PlannedKit], outing: Outing, rates: Mapping[int, OwnRate]) -> list[Ranked]:
    looks = sorted((outlook(kit, outing) for kit in kits), key=lambda look: _order(look, rates))
    if not looks:
        return []
    usable = [look.finest_detail_mm for look in looks if _usable(look) and look.finest_detail_mm]
    finest = min(usable, default=None)
    finest_of_all = min((look.finest_detail_mm for look in looks if look.finest_detail_mm), default=None)
    most = _left(looks[0], rates)
    rows = []
    for rank, look in enumerate(looks, 1):
        own_rate = rates.get(look.kit.kit_id) if look.kit.kit_id is not None else None
        rows.append(
            Ranked(
                rank=rank,
                outlook=look,
                own=own_rate,
                sharp_of_100=None if own_rate is None else 100 * own_rate.expected,
                left=_left(look, rates) / most if most > 0 and _usable(look) else 0.0,
                reason=_reason(look, looks[0], finest, rates),
            )
        )
    if rows[0].reason is Reason.FINEST:
        if len(usable) == 1:
            rows[0] = replace(rows[0], reason=Reason.ALONE)
        elif finest != finest_of_all:
            rows[0] = replace(rows[0], reason=Reason.FINEST_OF_USABLE)
    return rows


def _reason(look: Outlook, first: Outlook, finest_mm: float | None, rates: Mapping[int, OwnRate]) -> Reason:
    if look.beyond_focus_limit:
        return Reason.NO_FOCUS
    if not look.fits:
        return Reason.CUT_OFF
    if look.finest_detail_mm is None or finest_mm is None:
        return Reason.TOO_DARK
    as_fine = look.finest_detail_mm <= finest_mm * (1 + AS_FINE)
    if look is first:
        if look.finest_detail_mm == finest_mm:
            return Reason.FINEST
        return Reason.AS_FINE_SHARPER if as_fine else Reason.MOST_LEFT
    of_first = look.finest_detail_mm / (first.finest_detail_mm or look.finest_detail_mm)
    if of_first < 1 / (1 + AS_FINE):
        return Reason.FEWER_SHARP
    if of_first > 1 + AS_FINE:
        return Reason.COARSER
    if _rate(look, rates) < _rate(first, rates):
        return Reason.AS_FINE_FEWER
    return Reason.AS_FINE_LESS_ISO if look.iso < 0.9 * first.iso else Reason.NEARLY_AS_FINE


def _changes(
    kits: Sequence[PlannedKit], outing: Outing, rates_at: RatesAt, ranked: list[Ranked]
) -> list[Change]:
    """The nearest changes of light or distance that put another kit first."""
    if not ranked:
        return []
    turns = []
    for steps in (
        [{"light_ev": outing.light_ev + stops} for stops in (1, 2, 3)],
        [{"light_ev": outing.light_ev - stops} for stops in (1, 2, 3)],
        [{"distance_m": outing.distance_m * share} for share in (0.8, 0.6, 0.4)],
        [{"distance_m": outing.distance_m * share} for share in (1.25, 1.6, 2.5)],
    ):
        for step in steps:
            try:
                other_outing = replace(outing, **step)
                look = best_kit(kits, other_outing, rates_at(other_outing.light_ev))
            except ValueError:  # nearer than a lens focuses, or beyond what there is
                break
            if look is not None and look.kit != ranked[0].outlook.kit:
                turns.append(
                    Change(light_ev=other_outing.light_ev, distance_m=other_outing.distance_m, best=look.kit)
                )
                break
    return turns
