"""Sittings and gaps in file numbers, told from arrays, against the same told by pandas row by row."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from auditor.analysis.losses import of_encounters, sittings
from auditor.statistics import number_gaps
from auditor.statistics.number_gaps import gaps_of_scenes

LAST = number_gaps.LAST_NUMBER


def scenes(seed: int) -> pd.DataFrame:
    """Scenes of three bodies over some days, with gaps, counters that begin again, and some without numbers.

    The third body stands for two of one name: its numbers run back and forth.
    """
    chance = np.random.default_rng(seed)
    rows: list[dict[str, Any]] = []
    for body in ("a|1|", "b|2|7", "c|3|"):
        number, at = int(chance.integers(1, LAST)), pd.Timestamp("2026-04-18T05:00:00")
        for _scene in range(int(chance.integers(5, 60))):
            at += pd.Timedelta(minutes=float(chance.exponential(90)))
            frames = int(chance.integers(1, 30))
            number += int(chance.choice([0, 0, 3, 40, 4000]))
            if body.startswith("c") and chance.random() < 0.3:
                number -= 6000
            own = [(number + one - 1) % LAST + 1 for one in range(frames)]
            number += frames
            low, high = [one for one in own if one < 5000], [one for one in own if one >= 5000]
            numbered = 0 if chance.random() < 0.1 else frames
            rows.append(
                {
                    "body": body, "first_at": at, "last_at": at + pd.Timedelta(minutes=frames),
                    "numbered": numbered, "lowest": min(own), "highest": max(own),
                    "lowest_of_high": min(high, default=np.nan), "highest_of_low": max(low, default=np.nan),
                }
            )  # fmt: skip
    table = pd.DataFrame(rows).sample(frac=1.0, random_state=seed).reset_index(drop=True)
    table.loc[table["numbered"] == 0, ["lowest", "highest", "lowest_of_high", "highest_of_low"]] = np.nan
    return table


def columns(table: pd.DataFrame) -> dict[str, Any]:
    found = {name: table[name].to_numpy() for name in table.columns}
    found["body"] = table["body"].to_numpy(dtype=object)
    for name in ("lowest", "highest", "lowest_of_high", "highest_of_low"):
        found[name] = table[name].to_numpy(dtype=float)
    return found


def by_pandas(table: pd.DataFrame) -> Any:
    known = table[table["numbered"] > 0].sort_values(["body", "first_at"], kind="stable").copy()
    ended = known.groupby("body")["last_at"].cummax().shift()
    known["stretch"] = ((known["body"] != known["body"].shift()) | (known["first_at"] >= ended)).cumsum()
    gone = []
    stretches = [group for _number, group in known.groupby("stretch")]
    ends = []
    for group in stretches:
        first, last = group["lowest"].min(), group["highest"].max()
        if last - first > LAST / 2:
            first, last = group["lowest_of_high"].min(), group["highest_of_low"].max()
        ends.append((first, last))
    between = [0.0] * (len(stretches) + 1)
    back: dict[str, int] = {}
    for place in range(1, len(stretches)):
        before, after = stretches[place - 1], stretches[place]
        body = after["body"].iloc[0]
        pause_h = (after["first_at"].min() - before["last_at"].max()).total_seconds() / 3600
        gap = (ends[place][0] - ends[place - 1][1]) % LAST - 1
        if body == before["body"].iloc[0] and pause_h < 12:
            between[place] = gap if 0 < gap <= number_gaps.LARGEST_GAP else 0.0
            back[body] = back.get(body, 0) + (gap > LAST / 2)
    for place, group in enumerate(stretches):
        frames = int(group["numbered"].sum())
        inside = max((ends[place][1] - ends[place][0]) % LAST + 1 - frames, 0)
        inside = inside if inside <= 3 * frames + 10 else 0
        several = back.get(group["body"].iloc[0], 0) >= number_gaps.FEWEST_BACK
        own = 0.0 if several else inside + between[place] / 2 + between[place + 1] / 2
        gone.append(own * group["numbered"] / frames)
    return pd.concat(gone).reindex(table.index).fillna(0.0)


@pytest.mark.parametrize("seed", range(12))
def test_gaps_in_file_numbers(seed: int) -> None:
    table = scenes(seed)
    found = gaps_of_scenes(**columns(table)).deleted
    assert_allclose(found, by_pandas(table), atol=1e-9)
    assert found.any()


def test_bodies_whose_numbers_run_back_and_forth_tell_nothing() -> None:
    told = [
        (gaps.deleted[own], gaps.back_and_forth[own])
        for gaps, own in (
            (gaps_of_scenes(**columns(table)), table["body"] == "c|3|") for table in map(scenes, range(12))
        )
    ]
    assert sum(not deleted.any() for deleted, _back in told) > 6
    assert all(not deleted.any() for deleted, back in told if back.any())
    assert any(back.any() for _deleted, back in told)


@pytest.mark.parametrize("gap_h", [0.5, 2.0])
@pytest.mark.parametrize("seed", range(12))
def test_sittings(seed: int, gap_h: float) -> None:
    table = scenes(seed)
    table.loc[3, ["first_at", "last_at"]] = pd.NaT
    in_time = table.sort_values("first_at", kind="stable")
    late = in_time["first_at"] - in_time["last_at"].cummax().shift() > pd.Timedelta(hours=gap_h)
    another_day = in_time["first_at"].dt.date != in_time["first_at"].dt.date.shift()
    expected = (late | another_day).cumsum().reindex(table.index)
    expected[table["first_at"].isna()] = 0
    found = sittings(table["first_at"].to_numpy(), table["last_at"].to_numpy(), gap_h)
    assert found.tolist() == expected.tolist()
    assert found.max() > 1


@pytest.mark.parametrize("seed", range(4))
def test_all_kits_of_an_encounter_are_in_one_sitting(seed: int) -> None:
    chance = np.random.default_rng(seed)
    table = pd.DataFrame({"sitting": chance.integers(1, 9, 60), "encounter": chance.integers(0, 25, 60)})
    first = table.groupby("encounter")["sitting"].transform("min")
    expected = first.where(table["encounter"] > 0, table["sitting"])
    found = of_encounters(table["sitting"].to_numpy(), table["encounter"].to_numpy())
    assert found.tolist() == expected.tolist()


def test_no_scenes() -> None:
    assert len(gaps_of_scenes(**columns(scenes(0).iloc[:0])).deleted) == 0
    none = np.array([], dtype="datetime64[us]")
    assert len(sittings(none, none, 2.0)) == 0
