"""What people read names kits shortly; the data keep the full names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from auditor.analysis.answers import KitAnswer
from auditor.analysis.findings import Findings


def with_short_names(findings: Findings, names: Mapping[int, str]) -> Findings:
    """The same findings with the short names of kits, by kit_id, as a person reads them."""
    return replace(
        findings,
        kits=tuple(_renamed(answer, names) for answer in findings.kits),
        alternatives=tuple(
            replace(row, kit_name=names[row.kit_id], other_kit_name=names[row.other_kit_id])
            for row in findings.alternatives
        ),
        changes=tuple(replace(row, kit_name=names[row.kit_id]) for row in findings.changes),
    )


def _renamed(answer: KitAnswer, names: Mapping[int, str]) -> KitAnswer:
    compared, change, bare = answer.comparison, answer.change, answer.bare
    return replace(
        answer,
        kit=replace(answer.kit, kit_name=names[answer.kit_id]),
        bare=bare and replace(bare, kit_name=names[bare.kit_id]),
        comparison=compared
        and replace(compared, kit_name=names[compared.kit_id], bare_kit_name=names[compared.bare_kit_id]),
        change=change and replace(change, kit_name=names[change.kit_id]),
    )
