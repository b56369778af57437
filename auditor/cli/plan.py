"""plan: which kit for an animal, a distance, a light and a shutter speed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from auditor.cli import common
from auditor.cli.option_groups import with_group

if TYPE_CHECKING:
    from auditor.planning.outing import Outing
    from auditor.planning.record import Usual


@dataclass(frozen=True, slots=True, kw_only=True)
class OutingOptions:
    """The options that say what an outing is like, as they were typed."""

    distance_m: Annotated[
        float | None, typer.Option("--distance", metavar="METRES", help="How far away the animal will be.")
    ] = None
    light: Annotated[
        str | None,
        typer.Option("--light", metavar="LIGHT", help="EV at ISO 100, or a word such as overcast."),
    ] = None
    trip_like: Annotated[
        str | None,
        typer.Option("--trip-like", metavar="TRIP", help="Take light and distance from one of your trips."),
    ] = None
    animal: Annotated[
        str | None, typer.Option("--animal", metavar="NAME", help="An animal by name, such as heron.")
    ] = None
    length_m: Annotated[
        float | None, typer.Option("--length", metavar="METRES", help="Its length, instead of a name.")
    ] = None
    height_m: Annotated[
        float | None, typer.Option("--height", metavar="METRES", help="Its height, if you know it.")
    ] = None
    speed_m_s: Annotated[
        float | None, typer.Option("--speed", metavar="NUMBER", help="Its speed, m/s. Default: at rest.")
    ] = None
    moving: Annotated[bool, typer.Option("--moving", help="It moves at the usual speed of its kind.")] = False
    shutter: Annotated[
        str | None, typer.Option("--shutter", metavar="TIME", help="Shutter speed, such as 1/1000.")
    ] = None

    def outing(self, logbook: Path | None) -> Outing:
        """The outing that they describe.

        Raises
        ------
        typer.BadParameter
            for options that do not go together, and for a word that is not known.
        ValueError
            for a number that cannot be.
        """
        from auditor.planning.outing import Outing, animal_named, light_named

        self._check_together()
        usual = _usual(logbook, self.trip_like)
        species = None if self.animal is None else _read("--animal", animal_named, self.animal)
        return Outing(
            length_m=species.length_m if species else self.length_m or 0.0,
            height_m=species.height_m if species and self.height_m is None else self.height_m,
            distance_m=usual.distance(self.distance_m),
            light_ev=usual.light_ev if self.light is None else _read("--light", light_named, self.light),
            exposure_time_s=None if self.shutter is None else _read("--shutter", _seconds, self.shutter),
            speed_m_s=species.speed_m_s if species and self.moving else self.speed_m_s or 0.0,
        )

    def _check_together(self) -> None:
        if (self.animal is None) == (self.length_m is None):
            raise typer.BadParameter("give one of the two", param_hint="--animal and --length")
        if self.moving and (self.animal is None or self.speed_m_s is not None):
            raise typer.BadParameter("it goes with --animal, and without --speed", param_hint="--moving")
        if self.trip_like is None and (self.distance_m is None or self.light is None):
            raise typer.BadParameter(
                "give both, or --trip-like with a trip of yours", param_hint="--distance and --light"
            )


def plan(
    options: OutingOptions,
    lens: Annotated[
        list[str] | None,
        typer.Option(
            "--buy", metavar="LENS", help='A lens you might buy: "600 mm f/4" or "600 mm f/4 3.1 kg".'
        ),
    ] = None,
    converter: Annotated[
        list[float] | None,
        typer.Option(
            "--buy-converter", metavar="FACTOR", min=1.0, max=3.0, help="A converter you might buy."
        ),
    ] = None,
    page: Annotated[
        Path | None,
        typer.Option(
            "--page", metavar="FILE", help="Also write a page to print, with a map of light and distance."
        ),
    ] = None,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """Which kit to mount, from reach, light, detail and your own hits."""
    try:
        _answer(logbook, options.outing(logbook), lens or [], converter or [], page, as_json)
    except ValueError as error:
        raise _wrong(error) from error


_OPTIONS = {
    "distance_m": "--distance", "length_m": "--length", "height_m": "--height", "light_ev": "--light",
    "speed_m_s": "--speed", "exposure_time_s": "--shutter",
}  # fmt: skip
"""What the command line calls the arguments of an outing."""


def _wrong(error: ValueError, option: str | None = None) -> typer.BadParameter:
    """The error as one of usage, under the name of the option."""
    name, _space, rest = str(error).partition(" ")
    if name in _OPTIONS:
        return typer.BadParameter(f"it {rest}", param_hint=option or _OPTIONS[name])
    return typer.BadParameter(str(error), param_hint=option)


T = TypeVar("T")


def _read(option: str, read: Callable[[str], T], text: str) -> T:
    try:
        return read(text)
    except ValueError as error:
        raise _wrong(error, option) from error


def _usual(logbook: Path | None, trip_like: str | None) -> Usual:
    from auditor.planning.record import Usual, usual_of

    if trip_like is None:
        return Usual(light_ev=0.0, distance_m=None)
    from auditor.store.kit_hits import met_on

    with common.reading(logbook) as book:
        trip = common.chosen_trip(book, trip_like, False)
        trip_id = common.trip_id(trip)
        assert trip_id is not None
        return usual_of(met_on(book, trip_id))


def _seconds(text: str) -> float:
    top, _slash, bottom = text.strip().removesuffix("s").strip().partition("/")
    try:
        return float(top) / float(bottom or 1)
    except (ValueError, ZeroDivisionError):
        raise ValueError(f"a shutter speed is written as 1/1000 or 0.5, not {text!r}") from None


def _answer(
    logbook: Path | None,
    outing: Outing,
    lenses: list[str],
    factors: list[float],
    page: Path | None,
    as_json: bool,
) -> None:
    from auditor.errors import LogbookError
    from auditor.planning.gear import parse_lens
    from auditor.planning.own_kits import own_kits
    from auditor.planning.plan import plan as plan_outing
    from auditor.planning.record import OwnRecord
    from auditor.report.text.plan import plan_text
    from auditor.store.kit_hits import kit_hits

    with common.reading(logbook) as book:
        own = own_kits(
            book,
            considered_lenses=[_read("--buy", parse_lens, text) for text in lenses],
            considered_factors=factors,
        )
        record = OwnRecord(kit_hits(book))
    if not own.kits:
        raise LogbookError(
            "No kit in the logbook has a known sensor, lens and converter, so there is nothing to plan with. "
            "Scan a folder of frames first: auditor scan FOLDER"
        )
    answer = plan_outing(own.kits, outing, record.rates, phones=own.phones)
    if page is not None:
        from auditor.planning.plan import kit_map
        from auditor.report.plan_page import write_plan

        write_plan(answer, kit_map(own.kits, outing, record.rates), page)
    if as_json:
        document = asdict(answer)
        for row, ranked in zip(document["ranked"], answer.ranked, strict=True):
            row["kit_name"] = ranked.outlook.kit.name
            row["weight_g"] = ranked.outlook.kit.weight_g
            row["weight_not_given"] = ranked.outlook.kit.not_weighed
            if row["outlook"]["shutter_for_motion_s"] == float("inf"):
                row["outlook"]["shutter_for_motion_s"] = None
            if row["outlook"]["depth_of_field_m"] == float("inf"):
                row["outlook"]["depth_of_field_m"] = None
        common.print_json(document)
    else:
        print(plan_text(answer, common.width()))


COMMANDS = (with_group(plan, "options", OutingOptions),)
