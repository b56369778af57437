"""Which frames are asked for: one set of conditions for every table, list, page and hand-over."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from auditor.records import KitIdentity
from auditor.store import flag_sums
from auditor.store.derived import kits_in_use
from auditor.store.frame_facts import Facts, FactsTable, FrameFacts, columns_of, facts_from, table_in_parts
from auditor.store.logbook import Logbook
from auditor.store.of_trip import OF_TRIP, asked_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Selection:
    """Conditions that all must hold; None or empty asks nothing.

    Of several kits or verdicts a frame has one; of several flags it has all.
    """

    trip_id: int | None = None
    kit_ids: tuple[int, ...] = ()
    converter_factor: float | None = None
    """1.0 for the bare lens."""
    scene_id: int | None = None
    day: str | None = None
    """As taken_at begins: 2026-04-18."""
    verdicts: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()

    @property
    def by_outcome(self) -> bool:
        """Whether frames are chosen by what came of them: a rate among those would say nothing."""
        return bool(self.verdicts or self.flags)

    def where(self) -> tuple[str, dict[str, object]]:
        """The conditions in SQL over `inferred AS i`, `membership AS m` and `verdicts AS v`.

        Returns
        -------
        An expression, and its named parameters; each begins with `selected_`.
        """
        tests: list[str] = []
        values: dict[str, object] = {}

        def one(name: str, column: str, value: object) -> None:
            if value is not None:
                tests.append(f"{column} = :selected_{name}")
                values[f"selected_{name}"] = value

        def any_of(name: str, column: str, wanted: Sequence[object]) -> None:
            if wanted:
                names = [f"selected_{name}_{number}" for number in range(len(wanted))]
                tests.append(f"{column} IN ({', '.join(':' + each for each in names)})")
                values.update(zip(names, wanted, strict=True))

        one("trip", "m.trip_id", self.trip_id)
        any_of("kit", "i.kit_id", self.kit_ids)
        one("converter", "i.converter_factor", self.converter_factor)
        one("scene", "m.scene_id", self.scene_id)
        one("day", "substr(i.taken_at, 1, 10)", self.day)
        any_of("verdict", "v.verdict", self.verdicts)
        for number, flag in enumerate(self.flags):
            tests.append(
                f"EXISTS (SELECT 1 FROM json_each(i.flags) WHERE json_each.value = :selected_flag_{number})"
            )
            values[f"selected_flag_{number}"] = flag
        return " AND ".join(tests) or "TRUE", values


EVERYTHING = Selection()
_SELECTED = """SELECT i.frame_id FROM inferred AS i LEFT JOIN membership AS m USING (frame_id)
    LEFT JOIN verdicts AS v USING (frame_id) WHERE {where}"""
_IN_ORDER = "ORDER BY taken_at, frame_id"
_PART = 2000
"""Frames made into records at once."""


def among(selection: Selection) -> tuple[str, dict[str, object]]:
    """The selection as a condition on `frame_id`, in SQL, and its parameters.

    Parameters
    ----------
    selection
        EVERYTHING for all.

    Returns
    -------
    tuple[str, dict[str, object]]
        TRUE where every frame is selected.
    """
    where, values = selection.where()
    return (where if where == "TRUE" else f"frame_id IN ({_SELECTED.format(where=where)})"), values


def selected_frames(logbook: Logbook, selection: Selection = EVERYTHING) -> list[FrameFacts]:
    """The selected frames, in order of time.

    Parameters
    ----------
    selection
        EVERYTHING for all.

    Returns
    -------
    list[FrameFacts]
        With all of their facts.
    """
    return selected_as(FrameFacts, logbook, selection)


def selected_as(facts: type[Facts], logbook: Logbook, selection: Selection) -> list[Facts]:
    """The selected frames, in order of time, with some of their facts alone.

    Parameters
    ----------
    facts
        A dataclass whose fields are columns of frame_facts.
    selection
        EVERYTHING for all.

    Returns
    -------
    list[Facts]
        Of the class that was asked for.
    """
    return list(each_selected(facts, logbook, selection))


def each_selected(facts: type[Facts], logbook: Logbook, selection: Selection) -> Iterator[Facts]:
    """The selected frames, in order of time, one by one: a million take more room than there may be.

    Parameters
    ----------
    facts
        A dataclass whose fields are columns of frame_facts.
    selection
        EVERYTHING for all.

    Yields
    ------
    Facts
        Of the class that was asked for.
    """
    where, values = among(selection)
    cursor = logbook.connection.execute(
        f"SELECT {columns_of(facts)} FROM frame_facts WHERE {where} {_IN_ORDER}", values
    )
    while rows := cursor.fetchmany(_PART):
        yield from facts_from(rows, facts)


def selected_paths(logbook: Logbook, selection: Selection) -> Iterator[str]:
    """The paths of the selected frames, in no order; of frames without a file nothing.

    Parameters
    ----------
    selection
        EVERYTHING for all.

    Returns
    -------
    Iterator[str]
        As `path` of frame_facts has them.
    """
    where, values = among(selection)
    sql = f"SELECT path FROM frame_facts WHERE {where} AND path IS NOT NULL"
    return (row[0] for row in logbook.connection.execute(sql, values))


def flagged_frames(logbook: Logbook, selection: Selection, *, most: int | None = None) -> list[FrameFacts]:
    """Selected frames that have a flag, the first in time.

    Parameters
    ----------
    selection
        EVERYTHING for all.
    most
        At most so many; None for all.

    Returns
    -------
    list[FrameFacts]
        In order of time.
    """
    where, values = selection.where()
    flagged = _SELECTED.format(where=f"{where} AND i.flags <> '[]'")
    sql = f"""SELECT {columns_of(FrameFacts)} FROM frame_facts
              WHERE frame_id IN ({flagged} ORDER BY i.taken_at, i.frame_id LIMIT :selected_most)
              {_IN_ORDER}"""
    values["selected_most"] = -1 if most is None else most
    return facts_from(logbook.query(sql, values), FrameFacts)


def selected_table(logbook: Logbook, selection: Selection) -> Iterator[FactsTable]:
    """The selected frames in order of time, as the logbook has them; some rows at a time.

    Parameters
    ----------
    selection
        EVERYTHING for all.

    Returns
    -------
    Iterator[FactsTable]
        At least one part, with the names of the columns.
    """
    where, values = selection.where()
    return table_in_parts(logbook, f"frame_id IN ({_SELECTED.format(where=where)})", values)


def count_selected(logbook: Logbook, selection: Selection) -> int:
    """How many frames a selection holds.

    Parameters
    ----------
    selection
        EVERYTHING for all.

    Returns
    -------
    int
        A number of frames.
    """
    where, values = selection.where()
    return int(logbook.query(f"SELECT count(*) FROM ({_SELECTED.format(where=where)})", values)[0][0])


def selected_flag_counts(logbook: Logbook, selection: Selection) -> dict[str, int]:
    """How many of the selected frames have each flag, in order of the flags' names.

    Parameters
    ----------
    selection
        EVERYTHING for all.

    Returns
    -------
    dict[str, int]
        Flags that no frame has are left out.
    """
    if selection == Selection(trip_id=selection.trip_id):
        kept = flag_sums.flag_counts(logbook, selection.trip_id)
        if kept is not None:
            return kept
    where, values = selection.where()
    sql = f"""SELECT flag.value, count(*) FROM inferred, json_each(inferred.flags) AS flag
              WHERE frame_id IN ({_SELECTED.format(where=where)}) GROUP BY flag.value ORDER BY flag.value"""
    return {row[0]: row[1] for row in logbook.query(sql, values)}


def with_bare_kits(logbook: Logbook, selection: Selection) -> Selection:
    """The selection over kits alone, each with the same body and lens bare, which it is compared with.

    Parameters
    ----------
    selection
        Of any conditions.

    Returns
    -------
    Selection
        The same conditions, with more kits.
    """
    if not selection.kit_ids and selection.converter_factor is None:
        return selection
    kits = kits_in_use(logbook)
    wanted = [
        kit
        for kit in kits
        if (not selection.kit_ids or kit.kit_id in selection.kit_ids)
        and selection.converter_factor in (None, kit.converter_factor)
    ]
    bodies = {_body_and_lens(kit) for kit in wanted}
    chosen = {kit.kit_id for kit in wanted}
    chosen |= {kit.kit_id for kit in kits if kit.converter_factor == 1.0 and _body_and_lens(kit) in bodies}
    return replace(selection, kit_ids=tuple(sorted(chosen)), converter_factor=None)


def _body_and_lens(kit: KitIdentity) -> tuple[str | None, ...]:
    return kit.body_make, kit.body_model, kit.body_serial, kit.lens_name


def trips_of(logbook: Logbook, selection: Selection) -> list[int]:
    """The ids of the trips that the selected frames are of.

    Parameters
    ----------
    selection
        EVERYTHING for all.

    Returns
    -------
    list[int]
        Rising; frames without a time are in none.
    """
    where, values = selection.where()
    sql = f"""SELECT DISTINCT trip_id FROM membership
              WHERE frame_id IN ({_SELECTED.format(where=where)}) ORDER BY 1"""
    return [row[0] for row in logbook.query(sql, values)]


def days(logbook: Logbook, trip_id: int | None = None) -> list[str]:
    """Days on which frames were taken, of one trip or of all, the first one first.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    list[str]
        As 2026-04-18.
    """
    sql = f"""SELECT DISTINCT substr(i.taken_at, 1, 10) FROM inferred AS i
              LEFT JOIN membership AS m USING (frame_id)
              WHERE i.taken_at IS NOT NULL AND {OF_TRIP} ORDER BY 1"""
    return [row[0] for row in logbook.query(asked_of(sql, trip_id), {"trip": trip_id})]


def scene_exists(logbook: Logbook, scene_id: int) -> bool:
    """Whether there is a scene with this number.

    Parameters
    ----------
    scene_id
        As tables show it.

    Returns
    -------
    bool
        False where none has this number.
    """
    sql = "SELECT EXISTS (SELECT 1 FROM scenes WHERE scene_id = ?)"
    return bool(logbook.query(sql, (scene_id,))[0][0])


def converter_factors(logbook: Logbook) -> list[float]:
    """Factors of converters that frames were taken with, 1.0 for none; unknown ones are left out."""
    sql = """SELECT DISTINCT k.converter_factor FROM kits AS k WHERE k.converter_factor IS NOT NULL
             AND EXISTS (SELECT 1 FROM inferred AS i WHERE i.kit_id = k.kit_id) ORDER BY 1"""
    return [row[0] for row in logbook.query(sql)]


def converters_used(logbook: Logbook) -> bool:
    """Whether any frame was taken with a converter that is known."""
    return any(factor > 1 for factor in converter_factors(logbook))


def keywords(logbook: Logbook) -> list[str]:
    """Keywords that frames have, in the order of the alphabet."""
    sql = """SELECT DISTINCT keyword.value FROM frames, json_each(frames.keywords) AS keyword
             WHERE frames.keywords IS NOT NULL ORDER BY 1"""
    return [str(row[0]) for row in logbook.query(sql)]


@contextmanager
def narrowed(logbook: Logbook, selection: Selection) -> Iterator[None]:
    """Inside, the tables of `inferred` and `membership` hold the selected frames alone.

    Questions over kits then need no conditions of their own. A temporary view of the same name comes
    before the table in every query of this connection; the view frame_facts stays whole. Only for reading:
    nothing can be rebuilt inside.

    Parameters
    ----------
    selection
        EVERYTHING for all.

    Returns
    -------
    Iterator[None]
        Nothing: the logbook itself is narrowed.
    """
    where, values = selection.where()
    if where == "TRUE":
        yield
        return
    connection = logbook.connection
    connection.execute(f"CREATE TEMP TABLE selected AS {_SELECTED.format(where=where)}", values)
    connection.execute("CREATE UNIQUE INDEX temp.selected_frames ON selected (frame_id)")
    for table in ("inferred", "membership"):
        connection.execute(
            f"CREATE TEMP VIEW {table} AS SELECT * FROM main.{table} "
            "WHERE frame_id IN (SELECT frame_id FROM temp.selected)"
        )
    logbook.narrowed = True
    try:
        yield
    finally:
        logbook.narrowed = False
        for table in ("inferred", "membership"):
            connection.execute(f"DROP VIEW temp.{table}")
        connection.execute("DROP TABLE temp.selected")
