"""Frames, a row each, gathered to the arms of clusters that `statistics.matched` compares.

The product gathers them in the logbook: this is for records that are drawn.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from auditor.statistics.matched import Clusters, Comparison, compare

COVARIATES = ("exposure_time_s", "subject_mrad", "activity")


def risk_difference(frames: pd.DataFrame, *, confidence: float = 0.95) -> Comparison:
    """Compare treated with bare frames.

    Parameters
    ----------
    frames
        Columns hit (bool), treated (bool), cluster, light_ev; and, where known, exposure_time_s,
        subject_mrad, activity: each that is there is adjusted for. Leave exposure_time_s away for the total
        cost, since the shutter is partly a consequence of the converter. Rows without light are left out.
    confidence
        Of the interval, as a share.

    Returns
    -------
    Comparison
        Treated minus bare within strata, with an interval and a word.

    Raises
    ------
    ValueError
        for a column that is missing, or a confidence outside (0, 1).
    """
    missing = {"hit", "treated", "cluster", "light_ev"} - set(frames.columns)
    if missing:
        raise ValueError(f"frames lacks the columns {sorted(missing)}")
    return compare(gathered(frames), confidence=confidence)


def gathered(frames: pd.DataFrame) -> Clusters:
    """Frames gathered to arms of clusters: sums of hits, medians of the rest.

    Parameters
    ----------
    frames
        As in `risk_difference`.

    Returns
    -------
    Clusters
        One row an arm of a cluster.

    Raises
    ------
    ValueError
        for an exposure time or an angle that is not above 0.
    """
    known = [name for name in COVARIATES if name in frames.columns and frames[name].notna().all()]
    rows = frames[frames["light_ev"].notna()].assign(hit=lambda table: table["hit"].astype(float))
    covariates = {}
    for name in known:
        values = rows[name]
        if name == "activity":
            rows = rows.assign(activity=values.astype("category").cat.codes)
        elif (values > 0).all():
            rows = rows.assign(**{name: np.log2(values)})
        else:
            raise ValueError(f"{name} must be above 0")
    grouped = rows.groupby(["cluster", "treated"], sort=True)
    table = grouped.agg(hits=("hit", "sum"), frames=("hit", "size"), light_ev=("light_ev", "median"))
    for name in known:
        covariates[name] = grouped[name].median().to_numpy(dtype=float, copy=True)
    if "activity" in known:  # what differs within an encounter is a kind of its own
        mixed = grouped["activity"].nunique().to_numpy() > 1
        covariates["activity"][mixed] = -1.0
    labels = table.index.get_level_values("cluster")
    return Clusters(
        cluster=labels.factorize()[0].astype(np.int64),
        treated=table.index.get_level_values("treated").to_numpy(dtype=bool),
        hits=table["hits"].to_numpy(dtype=float),
        frames=table["frames"].to_numpy(dtype=float),
        light_ev=table["light_ev"].to_numpy(dtype=float),
        covariates=covariates,
    )
