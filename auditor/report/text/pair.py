"""What is said of the pair: how it was chosen, what differs, and that one pair proves nothing."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.report.text import values

PROVES_NOTHING = "One pair proves nothing."


def caption(seconds_apart: float | None, keywords: Sequence[str], *, same_lens: bool) -> str:
    """The sentences below the two pictures.

    Parameters
    ----------
    seconds_apart
        None where they are the best of each kit, of different moments.
    keywords
        Those that both frames have.
    same_lens
        Whether body and lens are the same.
    """
    if seconds_apart is None:
        return (
            "No animal was in focus with both kits within a minute: these are the sharpest frame of each, "
            f"of other moments, cut to one angle. {PROVES_NOTHING}"
        )
    what = f" ({values.plain(', '.join(keywords))})" if keywords else ""
    bodies = "" if same_lens else "two bodies, "
    return (
        f"One encounter{what}, {bodies}{_apart(seconds_apart)}, both in focus, cut to one angle. "
        f"{PROVES_NOTHING}"
    )


def label(kit_name: str, iso: float | None, scaled: float) -> str:
    """Kit and ISO of one picture, and how it is shown."""
    shown = "at true size" if scaled < 1.005 else f"scaled up {scaled:.1f} times"
    return f"{values.shortened(kit_name, 40)}, ISO {values.iso(iso)}, {shown}"


def _apart(seconds: float) -> str:
    if seconds < 1:
        return "at the same moment"
    if seconds < 120:
        return f"{values.count(seconds, 'second')} apart"
    return f"{values.count(seconds / 60, 'minute')} apart"
