"""The kits that can be mounted: those of the logbook, and those considered but not owned."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import hypot, sqrt

from auditor.frames.declared import Declared
from auditor.frames.flags import iso_ceiling
from auditor.frames.kit_names import short_names
from auditor.frames.lens import from_name
from auditor.optics.converter import light_loss_stops
from auditor.optics.resolution import lens_sigma_um
from auditor.optics.sensor import FULL_FRAME_DIAGONAL_MM
from auditor.records import KnownKit, Recorded
from auditor.store.bench import BenchResult
from auditor.store.gear import UsedKit

SHORTEST_WITH_CONVERTER_MM = 70.0
"""Converters are made for lenses that reach this far (common practice): none goes on a phone."""
BodyKey = tuple[str, str, str]
"""Make, model, serial number."""

_LENS = re.compile(
    r"^\s*(?P<focal>\d+(?:\.\d+)?)\s*mm\s*f\s*/?\s*(?P<widest>\d+(?:\.\d+)?)"
    r"(?:\s*,?\s+(?P<weight>\S.*?))?\s*$",
    re.IGNORECASE,
)
_WEIGHT = re.compile(r"(?P<amount>\d+(?:\.\d+)?)\s*(?P<unit>k?g)", re.IGNORECASE)
LIGHTEST_G, HEAVIEST_G = 50.0, 30_000.0
"""From a small converter to the longest lens with its support (C): anything else is a slip."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """A camera body, as far as planning needs it; None where no frame or declaration says it."""

    key: BodyKey
    pixel_pitch_um: float
    sensor_diagonal_mm: float
    width_mm: float
    """Of the whole sensor, its longer side."""
    base_iso: float = 100.0
    iso_ceiling: float | None = None
    focus_limit_f_number: float | None = None
    weight_g: float | None = None

    @property
    def height_mm(self) -> float:
        """Of the whole sensor, its shorter side."""
        return sqrt(self.sensor_diagonal_mm**2 - self.width_mm**2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """A lens without a converter; a zoom at the longest focal length that it was used at."""

    name: str
    focal_length_mm: float
    widest_f_number: float
    zoom: bool = False
    considered: bool = False
    """Not owned: given as something to buy."""
    sigma_um: float | None = None
    """Its own blur on the sensor, from a bench; None where none was made."""
    weight_g: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedKit:
    """A body, a lens and perhaps a converter."""

    body: Body
    lens: Lens
    converter_factor: float = 1.0
    kit_id: int | None = None
    """In the logbook; None for a kit that took no frame yet."""
    converter_sigma_um: float | None = None
    """The converter's own blur on the sensor, from a bench; None where none was made."""
    converter_weight_g: float | None = None
    converter_considered: bool = False
    """Not owned."""
    name: str = ""
    """Short name, as everywhere; see `frames.kit_names`."""
    longest_mm: float = 0.0
    """Longest focal length in effect of this lens on this body: what a shorter one can be cropped to."""

    @property
    def focal_length_mm(self) -> float:
        """In effect."""
        return self.lens.focal_length_mm * self.converter_factor

    @property
    def considered(self) -> bool:
        """Whether a part of it is not owned."""
        return self.lens.considered or self.converter_considered

    @property
    def widest_f_number(self) -> float:
        """In effect, the lens wide open."""
        return float(self.lens.widest_f_number * 2 ** (light_loss_stops(self.converter_factor) / 2))

    @property
    def not_weighed(self) -> tuple[str, ...]:
        """Its parts whose weight was not given: body, lens, converter."""
        weights = [("body", self.body.weight_g), ("lens", self.lens.weight_g)]
        if self.converter_factor > 1:
            weights.append(("converter", self.converter_weight_g))
        return tuple(part for part, weight_g in weights if weight_g is None)

    @property
    def weight_g(self) -> float | None:
        """Of all its parts; None where that of one was not given."""
        if self.not_weighed:
            return None
        return (self.body.weight_g or 0.0) + (self.lens.weight_g or 0.0) + (self.converter_weight_g or 0.0)


def parse_weight_g(text: str) -> float:
    """A weight in grams, from "850 g" or "3.2 kg".

    Parameters
    ----------
    text
        As a person writes it.

    Returns
    -------
    float
        Grams.

    Raises
    ------
    ValueError
        for any other form, and for what nobody carries.
    """
    match = _WEIGHT.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"a weight is written as 850 g or 3.2 kg, not {text!r}")
    weight_g = float(match["amount"]) * (1000 if match["unit"].lower() == "kg" else 1)
    if not LIGHTEST_G <= weight_g <= HEAVIEST_G:
        raise ValueError(f"a weight must be {LIGHTEST_G:g} g to {HEAVIEST_G / 1000:g} kg, not {text!r}")
    return weight_g


def parse_lens(text: str) -> Lens:
    """A lens that is not owned, from "600 mm f/4", or with its weight, from "600 mm f/4 3.1 kg".

    Parameters
    ----------
    text
        As a person writes it.

    Returns
    -------
    Lens
        Focal length, f-number and weight.

    Raises
    ------
    ValueError
        for any other form.
    """
    match = _LENS.match(text)
    if match is None:
        raise ValueError(f"a lens is written as 600 mm f/4, or 600 mm f/4 3.1 kg, not {text!r}")
    focal, widest = float(match["focal"]), float(match["widest"])
    if not (1 <= focal <= 5000 and 0.7 <= widest <= 64):
        raise ValueError(f"a lens must be 1 to 5000 mm and f/0.7 to f/64, not {text!r}")
    return Lens(
        name=f"{focal:g} mm f/{widest:g}", focal_length_mm=focal, widest_f_number=widest, considered=True,
        weight_g=parse_weight_g(match["weight"]) if match["weight"] else None,
    )  # fmt: skip


def kits_to_mount(
    used: Sequence[UsedKit],
    *,
    considered_lenses: Iterable[Lens] = (),
    considered_factors: Iterable[float] = (),
    declared: Declared | None = None,
    known_kits: Sequence[KnownKit] = (),
) -> list[PlannedKit]:
    """Every owned body with every lens that it was used with, bare and behind every owned converter.

    A considered lens goes on every body, a considered converter behind every lens that is long enough for
    one. Kits with a body or lens of which pixel size, sensor or widest f-number is not known are left out:
    nothing can be computed.

    Parameters
    ----------
    used
        Kits of the logbook, with their sensors.
    considered_lenses, considered_factors
        Not owned.
    declared
        What was declared of bodies: base ISO, ISO ceiling, focus limit.
    known_kits
        All of the logbook, so that a kit is called here as it is elsewhere.

    Returns
    -------
    list[PlannedKit]
        Owned kits first.
    """
    declared = declared or Declared()
    bodies: dict[BodyKey, Body] = {}
    for kit in used:
        bodies.setdefault(kit.body_key, _body(kit, declared))
    lenses = _lenses_used(used, declared)
    for lens in considered_lenses:
        for key in bodies:
            lenses.setdefault((key, lens.name), lens)
    kit_ids = {(kit.body_key, kit.lens_name, kit.converter_factor): kit.kit_id for kit in used}
    owned_factors = {1.0, *(kit.converter_factor for kit in used)}
    factors = owned_factors | set(considered_factors)
    kits = []
    for (key, name), lens in lenses.items():
        behind = factors if lens.focal_length_mm >= SHORTEST_WITH_CONVERTER_MM else {1.0}
        behind = behind | {
            kit.converter_factor for kit in used if (kit.body_key, kit.lens_name) == (key, name)
        }
        kits += [
            PlannedKit(
                body=bodies[key], lens=lens, converter_factor=factor,
                kit_id=kit_ids.get((key, name, factor)),
                longest_mm=lens.focal_length_mm * max(behind),
                converter_considered=factor not in owned_factors,
                converter_weight_g=declared.converter_weight_g(factor) if factor > 1 else None,
            )
            for factor in sorted(behind)
        ]  # fmt: skip
    return _named(kits, known_kits)


def _lenses_used(used: Sequence[UsedKit], declared: Declared) -> dict[tuple[BodyKey, str], Lens]:
    """The lenses that each body was used with, by body and name; a zoom at its longest focal length."""
    lenses: dict[tuple[BodyKey, str], Lens] = {}
    for kit in used:
        place = kit.body_key, kit.lens_name
        if place in lenses and lenses[place].focal_length_mm >= kit.lens_focal_length_mm:
            continue
        lenses[place] = Lens(
            name=kit.lens_name,
            focal_length_mm=kit.lens_focal_length_mm,
            widest_f_number=kit.lens_widest_f_number,
            zoom=_is_zoom(kit.lens_name),
            weight_g=declared.lens_weight_g(kit.lens_name),
        )
    return lenses


def _named(kits: Sequence[PlannedKit], known_kits: Sequence[KnownKit]) -> list[PlannedKit]:
    """With short names that are told apart from each other and from those of all the logbook's kits."""
    all_kits = {kit.kit_id: kit for kit in known_kits}
    numbers = []
    for place, kit in enumerate(kits, 1):
        # A kit that took no frame yet has no number: those below 0 are free.
        number = -place if kit.kit_id is None else kit.kit_id
        numbers.append(number)
        make, model, serial = (part or None for part in kit.body.key)
        all_kits.setdefault(
            number,
            KnownKit(
                kit_id=number, kit_name="", body_make=make, body_model=model, body_serial=serial,
                lens_name=kit.lens.name, converter_factor=kit.converter_factor,
            ),
        )  # fmt: skip
    names = short_names(all_kits.values())
    return [replace(kit, name=names[number]) for kit, number in zip(kits, numbers, strict=True)]


def with_bench(
    kits: Iterable[PlannedKit], results: Iterable[BenchResult], declared: Declared | None = None
) -> list[PlannedKit]:
    """The kits with the blur of lens and converter as a bench gave it, in place of what optics assume.

    A lens is taken from its bare kit on any body, a converter from the same lens with it.

    Parameters
    ----------
    kits
        That could be mounted.
    results
        What the logbook keeps of benches; of two of one kit the later counts.
    declared
        What was declared of lenses that have two names.

    Returns
    -------
    list[PlannedKit]
        In the order of `kits`.
    """
    names = (declared or Declared()).names_of_lens
    benched = {(names(result.lens_name), result.converter_factor): result for result in results}
    return [_with_bench(kit, names(kit.lens.name), benched) for kit in kits]


def _with_bench(
    kit: PlannedKit, lens: frozenset[str], benched: dict[tuple[frozenset[str], float], BenchResult]
) -> PlannedKit:
    if (lens, 1.0) not in benched:
        return kit
    lens_um = _blur_um(benched[lens, 1.0])
    own_um = None
    if kit.converter_factor != 1 and (lens, kit.converter_factor) in benched:
        both_um = _blur_um(benched[lens, kit.converter_factor])
        # Blurs add as squares; the converter's is counted at the sensor, its factor larger.
        own_um = kit.converter_factor * max(both_um**2 - lens_um**2, 0.0) ** 0.5
    return replace(kit, lens=replace(kit.lens, sigma_um=lens_um), converter_sigma_um=own_um)


def _blur_um(result: BenchResult) -> float:
    """Blur of lens and converter in the focal plane of the bare lens."""
    factor = result.converter_factor
    per_um = result.cycles_per_mrad / (result.focal_length_mm / factor)
    lens_f_number = result.f_number / 2 ** (light_loss_stops(factor) / 2)
    return lens_sigma_um(per_um, lens_f_number, result.pixel_pitch_um / factor)


def _is_zoom(lens_name: str) -> bool:
    lens = from_name(lens_name)
    return lens.short_mm is not None and not lens.is_prime


def _body(kit: UsedKit, declared: Declared) -> Body:
    make, model, serial = (part or None for part in kit.body_key)
    recorded = Recorded(body_make=make, body_model=model, body_serial=serial)
    declared_body = declared.for_frame(recorded)
    ceiling = declared_body.iso_ceiling or iso_ceiling(FULL_FRAME_DIAGONAL_MM / kit.sensor_diagonal_mm)
    return Body(
        key=kit.body_key,
        pixel_pitch_um=kit.pixel_pitch_um,
        sensor_diagonal_mm=kit.sensor_diagonal_mm,
        width_mm=kit.sensor_diagonal_mm * kit.width_px / hypot(kit.width_px, kit.height_px),
        base_iso=declared_body.base_iso or 100.0,
        iso_ceiling=ceiling,
        focus_limit_f_number=declared_body.focus_limit_f_number,
        weight_g=declared.body_weight_g(recorded),
    )
