"""Answers on kits with numbers made up for a test."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from auditor.analysis.answers import KitAnswer, answers
from auditor.analysis.changes import Change
from auditor.analysis.compared import Comparison, Deleted, DetailCompared, HitsCompared
from auditor.analysis.kit_table import KitRow
from auditor.words import DetailOutcome, FocusOutcome, NoRate

BARE, WITH_2X = "Body + Long 500mm", "Body + Long 500mm + 2x"


def kit_row(kit_id: int = 1, name: str = BARE, **changed: Any) -> KitRow:
    """A bare kit of which two thirds of 90 frames hit."""
    usual = KitRow(
        kit_id=kit_id,
        kit_name=name,
        converter_factor=1.0,
        frames=100,
        scenes=14,
        encounters=12,
        judged=90,
        hits=60,
        unclear=0,
        measured=90,
        silent=0,
        manual=0,
        hit_rate=0.67,
        hit_rate_low=0.55,
        hit_rate_high=0.77,
        hit_rate_frames=90,
        hit_rate_missing=None,
        hit_rate_if_unclear_missed=0.67,
        hit_rate_if_unclear_hit=0.67,
        deleted=0,
        hit_rate_if_deleted_missed=0.67,
        median_iso=800.0,
        lower_iso=400.0,
        upper_iso=1600.0,
        median_iso_without_converter=800.0,
        median_forced_push_ev=0.0,
        median_light_value_ev=12.0,
        auto_iso_at_limit_frames=0,
        iso_pushed_frames=0,
        iso_pushed_share=0.0,
        near_reciprocal_frames=0,
        shutter_for_reach_ev=None,
    )
    return replace(usual, **changed)


def with_2x(**changed: Any) -> KitRow:
    """The same lens behind a 2x."""
    usual: dict[str, Any] = {
        "converter_factor": 2.0,
        "median_forced_push_ev": 2.0,
        "median_iso": 3200.0,
    }
    return kit_row(2, WITH_2X, **(usual | changed))


NO_RATE: dict[str, Any] = {
    "hit_rate": None,
    "hit_rate_low": None,
    "hit_rate_high": None,
    "hit_rate_frames": None,
    "judged": 3,
    "hits": 2,
    "hit_rate_missing": NoRate.TOO_FEW_ENCOUNTERS,
}


def hits(outcome: str = "fell", **changed: Any) -> HitsCompared:
    """Twenty points fewer in focus."""
    usual = HitsCompared(
        difference=-0.2,
        low=-0.3,
        high=-0.1,
        p_value=0.001,
        outcome=FocusOutcome(outcome),
        clusters_bare=19,
        clusters_treated=14,
        matched_share=0.9,
        adjusted_for=("light",),
        confidence=0.95,
        not_adjusted_for=("the animal's own size",),
    )
    return replace(usual, **changed)


def detail(outcome: str = "gain", **changed: Any) -> DetailCompared:
    """An eighth finer."""
    usual = DetailCompared(
        gain=0.12,
        low=0.04,
        high=0.2,
        blur_urad=3.5,
        blur_bare_urad=4.0,
        outcome=DetailOutcome(outcome),
        scenes=14,
        scenes_bare=19,
        encounters=14,
        encounters_bare=19,
        alike_in_light=True,
        noise_on_subject=0.5,
        noise_on_subject_bare=0.4,
    )
    return replace(usual, **changed)


def comparison(of_hits: HitsCompared, of_detail: DetailCompared, **changed: Any) -> Comparison:
    """The 2x against the bare lens."""
    usual = Comparison(
        kit_id=2,
        kit_name=WITH_2X,
        bare_kit_id=1,
        bare_kit_name=BARE,
        hits=of_hits,
        at_equal_shutter=hits("not enough evidence"),
        deleted=Deleted(frames=0, frames_bare=0),
        detail=of_detail,
        optics=None,
    )
    return replace(usual, **changed)


def change(**changed: Any) -> Change:
    """A stretch of the bare kit in which hits fell."""
    usual = Change(
        kit_id=1,
        kit_name=BARE,
        fell=True,
        from_at="2026-04-18T10:00:00",
        until_at="2026-04-18T12:00:00",
        rate_inside=0.17,
        rate_outside=0.83,
        p_value=0.003,
        bursts=40,
        encounters=20,
        encounters_inside=5,
        last_before="A0001.jpg",
        first_inside="A0002.jpg",
    )
    return replace(usual, **changed)


def trip(focus: str, of_detail: str, **of_hits: Any) -> list[KitAnswer]:
    """The answers on a bare kit and a 2x with these outcomes."""
    compared = comparison(hits(focus, **of_hits), detail(of_detail))
    return answers([kit_row(), with_2x()], [compared])
