"""What a frame counts as in rates: its probability of a hit, and what such probabilities tell, in SQL."""

from __future__ import annotations

from auditor.statistics.telling import Telling, telling_of_readings, telling_of_words
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


def _told(part: str, as_it_stands: float) -> str:
    return (
        f"iif({HIT_PROBABILITY} IS NULL, NULL, CASE WHEN v.hit_probability IS NULL THEN {as_it_stands} "
        f"WHEN v.verdict_source = 'camera_word' THEN :word_{part} ELSE :read_{part} END)"
    )


TOLD_BASE, TOLD_SHARE = _told("base", 0.0), _told("share", 1.0)
"""What misses count as in the mean, and how much further hits do: of the kind of probability that the frame
has. For the parameters of `telling`."""

_KINDS = """
SELECT v.verdict_source = 'camera_word' AS by_word, count(*) AS frames, sum(v.hit_probability) AS hits,
       sum(v.hit_probability * v.hit_probability) AS squares
FROM verdicts AS v JOIN main.inferred AS i USING (frame_id)
WHERE v.hit_probability IS NOT NULL AND NOT i.excluded GROUP BY 1
"""
_KINDS_OF_SUMS = """
SELECT 0, sum(by_reading), sum(by_reading_hits), sum(by_reading_squares) FROM encounter_sums
HAVING sum(by_reading) > 0
UNION ALL SELECT 1, sum(by_word), sum(by_word_hits), sum(by_word_squares) FROM encounter_sums
HAVING sum(by_word) > 0
"""


def telling(logbook: Logbook) -> dict[str, float]:
    """What probabilities tell over the whole logbook in any case, as parameters for TOLD_BASE and TOLD_SHARE.

    Returns
    -------
    dict[str, float]
        read_base and read_share of frames that were read, word_base and word_share of those that only the
        camera's word tells of.
    """
    sql = _KINDS_OF_SUMS if summed.all_stand(logbook) else _KINDS
    sums = {bool(by_word): counted for by_word, *counted in logbook.query(sql)}
    found = {"read": Telling(), "word": Telling()}
    if False in sums:
        found["read"] = telling_of_readings(*sums[False])
    if True in sums:
        found["word"] = telling_of_words(*sums[True])
    return {
        f"{kind}_{part}": value
        for kind, of in found.items()
        for part, value in (("base", of.base), ("share", of.share))
    }
