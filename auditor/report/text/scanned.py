"""What a scan came across, in words."""

from __future__ import annotations

from collections.abc import Mapping

from auditor.report.text import values


def passed_over(files_by_kind: Mapping[str, int]) -> str:
    """Files that hold no photograph: "10 MP4 and 2 MOV files passed over".

    Parameters
    ----------
    files_by_kind
        How many, by the ends of their names in small letters; not empty.
    """
    in_order = sorted(files_by_kind.items(), key=lambda kind: (-kind[1], kind[0]))
    kinds = values.listed([f"{files:,} {ending.upper()}" for ending, files in in_order])
    word = "file" if sum(files_by_kind.values()) == 1 else "files"
    return f"{kinds} {word} passed over (raws, JPEGs, HEIFs and TIFFs are read)"
