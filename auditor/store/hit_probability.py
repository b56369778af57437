"""What a frame counts as in rates: its probability of a hit, and what such probabilities tell, in SQL."""

from __future__ import annotations

import json
from typing import Any

from auditor.statistics.telling import ALL_KITS, Telling, telling_of_words, tellings_of_readings
from auditor.store import summed
from auditor.store.logbook import Logbook

ON_SUBJECT = (
    "CASE WHEN v.frame_id IS NULL THEN NULL "
    "ELSE coalesce(v.verdict_on_subject, iif(v.verdict_source = 'camera_word', v.verdict, 'unclear')) END"
)
"""The verdict in rates that stand beside each other: by one angle for all kits where pixels decided, else
by the camera's word, which magnification does not touch."""
HIT_PROBABILITY = (
    f"iif({ON_SUBJECT} IS NULL, NULL, coalesce(v.hit_probability, "
    f"CASE {ON_SUBJECT} WHEN 'hit' THEN 1.0 WHEN 'miss' THEN 0.0 END))"
)
"""What a frame counts as a hit in rates: unclear frames are lopsided near the criterion, so a rate of the
decided ones misleads. Where no probability is known the verdict counts as it stands."""


def read_told(part: str, kit_id: str) -> str:
    """What the probabilities of readings tell, of a kit, in SQL.

    Parameters
    ----------
    part
        `base` or `share`.
    kit_id
        The column.

    Returns
    -------
    str
        For the parameters of `telling`.
    """
    of_kits = f"json_extract(:read_{part}, '$.\"' || {kit_id} || '\"')"
    return f"coalesce({of_kits}, json_extract(:read_{part}, '$.\"{ALL_KITS}\"'))"


def _told(part: str, as_it_stands: float) -> str:
    return (
        f"iif({HIT_PROBABILITY} IS NULL, NULL, CASE WHEN v.hit_probability IS NULL THEN {as_it_stands} "
        f"WHEN v.verdict_source = 'camera_word' THEN :word_{part} ELSE {read_told(part, 'i.kit_id')} END)"
    )


TOLD_BASE, TOLD_SHARE = _told("base", 0.0), _told("share", 1.0)
"""What misses count as in the mean, and how much further hits do: of the kind of probability that the frame
has. For the parameters of `telling`."""

MOST_FRAMES = 3000
"""So many frames of a kit tell what its readings tell; more would only take longer."""
_BY_WORD = """
SELECT count(*) AS frames, total(v.hit_probability) AS hits,
       total(v.hit_probability * v.hit_probability) AS squares
FROM verdicts AS v JOIN main.inferred AS i USING (frame_id)
WHERE v.hit_probability IS NOT NULL AND v.verdict_source = 'camera_word' AND NOT i.excluded
"""
_BY_WORD_OF_SUMS = """
SELECT total(by_word), total(by_word_hits), total(by_word_squares) FROM encounter_sums
"""
_READ_BY_ENCOUNTER = """
    SELECT i.kit_id, m.encounter_id, count(*) AS by_reading
    FROM main.membership AS m JOIN main.inferred AS i USING (frame_id) JOIN verdicts AS v USING (frame_id)
    WHERE v.hit_probability IS NOT NULL AND v.verdict_source <> 'camera_word' AND NOT i.excluded
    GROUP BY 1, 2"""
# Whole encounters, evenly over the record of a kit.
_READ = """
WITH s AS MATERIALIZED ({sums}),
k AS (SELECT kit_id, sum(by_reading) / :most + 1 AS every FROM s GROUP BY kit_id)
SELECT s.kit_id, s.encounter_id, v.hit_probability
FROM k CROSS JOIN s ON s.kit_id = k.kit_id AND s.encounter_id % k.every = 0
CROSS JOIN main.membership AS m ON m.encounter_id = s.encounter_id
CROSS JOIN main.inferred AS i ON i.frame_id = m.frame_id AND i.kit_id = s.kit_id
CROSS JOIN verdicts AS v ON v.frame_id = m.frame_id
WHERE v.hit_probability IS NOT NULL AND v.verdict_source <> 'camera_word' AND NOT i.excluded
ORDER BY m.frame_id
"""
_READ_OF_SUMS = """
    SELECT kit_id, encounter_id, by_reading FROM encounter_sums
    WHERE by_reading > 0 AND encounter_id > 0"""


def telling(logbook: Logbook) -> dict[str, Any]:
    """What probabilities tell over the whole logbook in any case, as parameters for TOLD_BASE and TOLD_SHARE.

    Returns
    -------
    dict[str, Any]
        word_base and word_share of frames that only the camera's word tells of; read_base and read_share of
        those that were read, by kit, as JSON.
    """
    word, read = Telling(), {ALL_KITS: Telling()}
    stand = summed.all_stand(logbook)
    (sums,) = logbook.query(_BY_WORD_OF_SUMS if stand else _BY_WORD)
    if sums[0]:
        word = telling_of_words(*sums)
    sql = _READ.format(sums=_READ_OF_SUMS if stand else _READ_BY_ENCOUNTER)
    cursor = logbook.connection.execute(sql, {"most": MOST_FRAMES})
    cursor.row_factory = None
    if frames := cursor.fetchall():
        import numpy as np

        kits, encounters, probabilities = zip(*frames, strict=True)
        read = tellings_of_readings(np.array(kits), np.array(encounters), np.array(probabilities))
    return {"word_base": word.base, "word_share": word.share} | {
        f"read_{part}": json.dumps(
            {kit_id: round(getattr(of_kit, part), 4) for kit_id, of_kit in read.items()}
        )
        for part in ("base", "share")
    }
