"""What came of comparing a kit with its bare kit, or with a bare kit on a smaller sensor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditor.analysis.losses import TripPart
from auditor.analysis.optics import ExpectedGain
from auditor.words import DetailOutcome, FocusOutcome

if TYPE_CHECKING:
    from auditor.statistics.answer import Answer


@dataclass(frozen=True, slots=True, kw_only=True)
class HitsCompared:
    """Shares of hits of two kits in like conditions, this one minus the other (0.1 is ten points more)."""

    difference: float | None
    """None where no encounters of the two are alike."""
    low: float | None
    high: float | None
    p_value: float | None
    """One-sided, against a fall; the larger one of two opinions."""
    outcome: FocusOutcome
    clusters_bare: int
    """Encounters of the other kit that are like some of this one's."""
    clusters_treated: int
    matched_share: float
    """Share of this kit's frames in encounters that are like some of the other's, 0 to 1."""
    adjusted_for: tuple[str, ...]
    confidence: float
    not_adjusted_for: tuple[str, ...] = ()
    answer: Answer | None = None
    """What the model of the whole record tells besides; None for a comparison of matched encounters alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Deleted:
    """Frames that may have been deleted in camera, and what they could turn."""

    frames: int
    frames_bare: int
    difference_if_missed: float | None = None
    """The difference in shares of hits had all of them been misses; None where none were deleted."""
    difference_if_missed_bare_only: float | None = None
    difference_if_missed_with_it_only: float | None = None
    turned: bool = False
    """Whether the outcome would be another had they been misses: it is then inconclusive."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DetailCompared:
    """How much finer the blur of this kit is: 0.1 is a tenth finer, negative coarser."""

    gain: float | None
    low: float | None
    high: float | None
    blur_urad: float | None
    """Of its sharp frames, or the lower quartile over all, scenes weighted equally, in microradians."""
    blur_bare_urad: float | None
    """The same of the other kit, weighted to the light of this one's where `alike_in_light`."""
    outcome: DetailOutcome
    scenes: int
    scenes_bare: int
    encounters: int
    encounters_bare: int
    alike_in_light: bool
    noise_on_subject: float | None
    """Of a patch of 100 microradians a side, in levels of luma (0 to 255)."""
    noise_on_subject_bare: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A kit with a converter against the same body and lens bare."""

    kit_id: int
    kit_name: str
    bare_kit_id: int
    bare_kit_name: str
    hits: HitsCompared
    """The total cost of the converter: of the whole record by one model, where it can be fitted."""
    at_equal_shutter: HitsCompared
    """Its cost without what a faster shutter did."""
    deleted: Deleted
    detail: DetailCompared
    """What the kit resolves: its sharp frames, apart from how often it missed."""
    optics: ExpectedGain | None
    detail_got: DetailCompared | None = None
    """What was got over all frames: sinks with the misses, and never says that a crop does as well."""
    matched: HitsCompared | None = None
    """The check beside the model: encounters alike in light, and in what else allows."""
    disagree: bool = False
    """Whether model and check differ by more than chance lets two readings of one record differ."""
    trip: TripPart | None = None
    """What the trip that is looked at added; None where all trips are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """A kit with a converter against a bare lens on a smaller sensor that frames alike; never a flag."""

    kit_id: int
    kit_name: str
    other_kit_id: int
    other_kit_name: str
    hits: HitsCompared
    """As framed: fields of view are alike, so this is one angle too."""
    detail: DetailCompared
