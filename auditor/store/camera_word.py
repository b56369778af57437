"""How often the camera's word on focus was right: how likely frames that it alone tells of are hits."""

from __future__ import annotations

import json

from auditor.store.body_key import body_key_sql
from auditor.store.logbook import Logbook

PRIOR_FRAMES = 10
"""What all bodies together say counts as much as so many frames of the body itself (chosen)."""
FEWEST_FRAMES = 20
"""With fewer measured frames in all, nothing is known of how often a word is right (chosen)."""

_BODY = body_key_sql("f")
_MEASURED = f"""
SELECT {_BODY} AS body, f.camera_word AS word, sum(v.hit_probability) AS hits, count(*) AS frames
FROM readings AS r JOIN verdicts AS v USING (frame_id) JOIN frames AS f USING (frame_id)
WHERE v.hit_probability IS NOT NULL AND v.verdict_source <> 'camera_word'
  AND f.camera_word IN ('confirmed', 'not_confirmed')
GROUP BY 1, 2
"""
# Those of a body come first; a row without one holds for all others.
_WEIGH = f"""
WITH told AS MATERIALIZED (
    SELECT json_extract(value, '$[0]') AS body, json_extract(value, '$[1]') AS word,
           json_extract(value, '$[2]') AS probability FROM json_each(?)
), news AS MATERIALIZED (
    SELECT v.frame_id, coalesce(own.probability, other.probability) AS probability
    FROM verdicts AS v JOIN frames AS f USING (frame_id)
    LEFT JOIN told AS own ON own.word = f.camera_word AND own.body = {_BODY}
    LEFT JOIN told AS other ON other.word = f.camera_word AND other.body IS NULL
    WHERE v.verdict_source = 'camera_word'
)
UPDATE verdicts SET hit_probability = news.probability FROM news
WHERE news.frame_id = verdicts.frame_id AND verdicts.hit_probability IS NOT news.probability
"""


def weigh(logbook: Logbook) -> None:
    """Give frames that the camera's word alone tells of their probability of a hit; inside `writing()`.

    It is the share of hits among the body's measured frames with the same word, drawn towards that of all
    bodies where they are few; NULL where no body tells.
    """
    by_word: dict[str, list[tuple[str, float, int]]] = {}
    for row in logbook.query(_MEASURED):
        by_word.setdefault(row["word"], []).append((row["body"], row["hits"], row["frames"]))
    rows: list[tuple[str | None, str, float]] = []
    for word, bodies in by_word.items():
        frames = sum(body[2] for body in bodies)
        if frames < FEWEST_FRAMES:
            continue
        pooled = sum(body[1] for body in bodies) / frames
        rows.append((None, word, _rounded(pooled)))
        for body, hits, own in bodies:
            rows.append((body, word, _rounded((hits + PRIOR_FRAMES * pooled) / (own + PRIOR_FRAMES))))
    logbook.execute(_WEIGH, (json.dumps(rows),))


def _rounded(probability: float) -> float:
    """In hundredths, so that each new frame does not change all old ones a little."""
    return round(probability, 2)
