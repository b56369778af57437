"""Frames gathered by kit and encounter: what every rate and comparison is made of.

The logbook does the gathering, so that a million frames come out as some thousands of rows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditor.analysis.losses import sittings
from auditor.store import kit_queries
from auditor.store.logbook import Logbook

if TYPE_CHECKING:
    import pandas as pd

NEAR_RECIPROCAL_STOPS = 0.5
"""A shutter this close to 1 / focal length was taken for the reach."""
MIXED = "mixed"
"""What animals did where the frames of an encounter differ in it."""

LARGEST_GAP = 1000
"""A longer gap in the file numbers between two scenes is taken for another card."""
MOST_DELETED_TIMES, MOST_DELETED_MORE = 3, 10
"""Inside an encounter, a gap over three times the frames that are there, and ten, is no deleting (chosen)."""
LONGEST_PAUSE_H = 12.0
"""As is one over a longer pause."""
FEWEST_BACK = 2
LAST_NUMBER = 9999
"""File numbers run from 0001 to 9999 and begin again (DCF, CIPA DC-009, S second-hand)."""


def kit_encounters(logbook: Logbook, trip_id: int | None = None) -> pd.DataFrame:
    """One row a kit in an encounter, of one trip or of all; frames without a time have no encounter.

    Columns: kit_id, encounter_id, trip_id; counts frames, judged, hits, unclear (by one angle
    for all kits), weighed and likely_hits (frames that count by how likely each is a hit, and the sum of
    that), framed_judged, framed_hits (as framed: magnification counts against them), measured,
    silent, manual, iso_pushed, near_reciprocal, compared, compared_hits, keyworded; means over the compared
    frames light_ev, exposure_time_s, metre_mrad (what a metre measures at the distance of focus); activity
    by keywords and activity by focus area and drive mode (None where not recorded); deleted: frames that
    gaps in the file numbers leave room for (0 for bodies without a serial number whose numbers run back and
    forth); sitting: a number for the encounters of a day with less than two hours between them.
    """
    import pandas as pd

    reach = 2.0**NEAR_RECIPROCAL_STOPS
    names, rows = kit_queries.encounters(logbook, trip_id, near_reciprocal=(1 / reach, reach))
    table = pd.DataFrame(rows, columns=names)
    table["encounter_id"] = table["encounter_id"].astype("Int64")
    for kind in ("keywords", "mode"):
        same = table[f"first_{kind}"] == table[f"last_{kind}"]
        table[f"activity_by_{kind}"] = table.pop(f"first_{kind}").where(same, MIXED)
        table = table.drop(columns=f"last_{kind}")
    table.loc[table["activity_by_mode"] == " / ", "activity_by_mode"] = None
    bodies = kit_queries.bodies(logbook)
    table["sitting"] = sittings(table)
    table["deleted"] = _deleted(table.assign(body=table["kit_id"].map(bodies)))
    return table.drop(columns=["first_at", "last_at", "numbered", *_NUMBERS])


_NUMBERS = ["lowest", "highest", "lowest_of_high", "highest_of_low"]


def _deleted(table: pd.DataFrame) -> pd.Series[float]:
    """Frames that gaps in the file numbers of a body leave room for, a number a row of the table.

    A gap between two scenes may have been the end of one or the beginning of the other: half for each.
    Scenes of one body that overlap in time share their gaps by the frames that each has.
    """
    import numpy as np
    import pandas as pd

    times = {name: pd.to_datetime(table[name], format="ISO8601") for name in ("first_at", "last_at")}
    known = table.assign(**times)[(table["numbered"] > 0) & table["encounter_id"].notna()]
    known = known.sort_values(["body", "first_at"])
    ended = known.groupby("body")["last_at"].cummax().shift()
    apart = (known["body"] != known["body"].shift()) | (known["first_at"] >= ended)
    known["stretch"] = apart.cumsum()
    stretches = known.groupby("stretch").agg(
        body=("body", "first"), first_at=("first_at", "min"), last_at=("last_at", "max"),
        numbered=("numbered", "sum"), lowest=("lowest", "min"), highest=("highest", "max"),
        lowest_of_high=("lowest_of_high", "min"), highest_of_low=("highest_of_low", "max"),
    )  # fmt: skip
    # The counter began again in between.
    around = stretches["highest"] - stretches["lowest"] > LAST_NUMBER / 2
    first = stretches["lowest"].where(~around, stretches["lowest_of_high"])
    last = stretches["highest"].where(~around, stretches["highest_of_low"])
    inside = (last - first) % LAST_NUMBER + 1 - stretches["numbered"]
    before = (first - last.shift()) % LAST_NUMBER - 1
    pause_h = (stretches["first_at"] - stretches["last_at"].shift()).dt.total_seconds() / 3600
    follows = (stretches["body"] == stretches["body"].shift()) & (pause_h < LONGEST_PAUSE_H)
    between = np.where(follows & (before > 0) & (before <= LARGEST_GAP), before, 0.0)
    # Nobody deletes so many at the side of one animal: another card, or another body of the same name.
    most = MOST_DELETED_TIMES * stretches["numbered"] + MOST_DELETED_MORE
    within = inside.clip(lower=0.0).where(inside <= most, 0.0)
    # Bodies without a serial number may be several: their numbers then run back and forth, and tell nothing.
    back = follows & (before > LAST_NUMBER / 2)
    several = back.groupby(stretches["body"]).transform("sum") >= FEWEST_BACK
    halves = between / 2 + np.append(between[1:], 0.0) / 2
    stretches["deleted"] = np.where(several, 0.0, within + halves)
    of_stretch = stretches.loc[known["stretch"], ["deleted", "numbered"]].set_index(known.index)
    shares = of_stretch["deleted"] * known["numbered"] / of_stretch["numbered"]
    return shares.reindex(table.index).fillna(0.0)
