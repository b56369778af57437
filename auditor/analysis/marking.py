"""Bursts that the photographer marked on the chart of light, as what is declared of them."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.store.bursts import BurstLight
from auditor.store.declared_facts import ConverterFacts, RejectedFacts, Said, Span

SUSPECTED = (1.4, 2.0)
"""The factors that hints offer."""


def converter_on(bursts: Sequence[BurstLight], factor: float) -> Said:
    """A converter that did not report itself was on for these bursts.

    Parameters
    ----------
    bursts
        Of one body; at least one.
    factor
        1.0 for none.

    Returns
    -------
    Said
        To be kept by `derive.declaring.declare`.

    Raises
    ------
    ValueError
        for no burst, or bursts of two bodies.
    """
    return Said(facts=ConverterFacts(factor=factor, bursts=_spans(bursts)), body=_body(bursts))


def cloud_over(bursts: Sequence[BurstLight]) -> list[Said]:
    """What took the light of these bursts was no converter: they are not suspected again, and one that was
    declared of them counts no more.

    Parameters
    ----------
    bursts
        Of one body; at least one.

    Returns
    -------
    list[Said]
        One a factor that was suspected, and one for the bursts of which a converter was declared.

    Raises
    ------
    ValueError
        for no burst, or bursts of two bodies.
    """
    body = _body(bursts)
    rejected = [
        Said(facts=RejectedFacts(about="converter", value=factor, bursts=_spans(bursts)), body=body)
        for factor in SUSPECTED
    ]
    behind = [burst for burst in bursts if burst.declared and burst.converter_factor != 1]
    return [*rejected, *([converter_on(behind, 1.0)] if behind else [])]


def _spans(bursts: Sequence[BurstLight]) -> tuple[Span, ...]:
    in_order = sorted(bursts, key=lambda burst: burst.camera_first_at)
    return tuple(Span(burst.camera_first_at, burst.camera_last_at) for burst in in_order)


def _body(bursts: Sequence[BurstLight]) -> str:
    bodies = sorted({burst.body for burst in bursts})
    if len(bodies) != 1:
        raise ValueError(f"bursts must be of one body, not of {len(bodies)}: {', '.join(bodies)}")
    return bodies[0]
