"""Tables that other programs read: CSV, JSON and Parquet, their units in the names of their columns."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import astuple, fields
from io import StringIO
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from auditor.analysis.kit_table import KitRow
from auditor.errors import OutputError
from auditor.report.listing import below
from auditor.report.text.values import plain
from auditor.store.frame_facts import FactsTable, column_types, table_of_trip
from auditor.store.logbook import Logbook

if TYPE_CHECKING:
    import pyarrow as pa

MADE_BY = "auditor"
BEGINNINGS = ("frame_id,trip_id,", "kit_id,kit_name,", f'{{"made_by": "{MADE_BY}"')
"""How our CSV and JSON begin: what begins otherwise is someone else's."""

_RUN_BY_SPREADSHEETS = ("=", "+", "-", "@", "\t", "\r")
"""Cells that begin like this are run as formulas by spreadsheets: a lens name must not be."""


def csv_lines(parts: Iterable[FactsTable]) -> Iterator[str]:
    """A table as CSV: a head, then one line a row, numbers to ten digits, nothing where nothing is known.

    A text that a spreadsheet would run as a formula gets an apostrophe in front; what could steer a terminal
    is written as an escape.

    Parameters
    ----------
    parts
        Of one table, all with the same columns.
    """
    lines = StringIO()
    writer = csv.writer(lines, lineterminator="\n")
    for number, part in enumerate(parts):
        if number == 0:
            writer.writerow(part.columns)
        writer.writerows([_cell(value) for value in row] for row in part.rows)
        yield lines.getvalue()
        lines.seek(0)
        lines.truncate()


def check_parquet() -> None:
    """Raise an OutputError where Parquet cannot be written here."""
    try:
        import pyarrow  # noqa: F401  # whether it is there
    except ImportError as error:
        raise OutputError(
            'Parquet needs a package that is not installed: python -m pip install "auditor[parquet]". '
            "Or choose other formats with --format html,csv,json."
        ) from error


def write_frames(logbook: Logbook, trip_id: int | None, folders: list[str], paths: dict[str, Path]) -> None:
    """Write the frames, a part at a time, into frames.csv, frames.json and frames.parquet, as asked for.

    Parameters
    ----------
    folders
        The folders that were scanned: paths are written as they lie below them.
    paths
        File name, such as frames.csv -> where it is written.

    Raises
    ------
    OSError
        where a file cannot be written.
    """
    parts = (_below(part, folders) for part in table_of_trip(logbook, trip_id))
    _write("frames", parts, paths, lambda: _schema_of(column_types(logbook)))


def write_kits(kits: Sequence[KitRow], paths: dict[str, Path]) -> None:
    """Write the kit table into kits.csv, kits.json and kits.parquet, as asked for."""
    table = FactsTable(tuple(field.name for field in fields(KitRow)), [astuple(kit) for kit in kits])
    _write("kits", [table], paths, lambda: None)


def parquet_is_ours(path: Path) -> bool:
    """Whether a Parquet file says that the auditor made it."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        return (pq.read_metadata(path).metadata or {}).get(b"made_by") == MADE_BY.encode()
    except (pa.ArrowException, OSError):
        return False


def _below(part: FactsTable, folders: list[str]) -> FactsTable:
    place = part.columns.index("path")
    return FactsTable(
        part.columns, [(*row[:place], below(row[place], folders), *row[place + 1 :]) for row in part.rows]
    )


def _write(table: str, parts: Iterable[FactsTable], paths: dict[str, Path], schema: Any) -> None:
    writers: list[Any] = []
    kinds = {"csv": _Csv, "json": _Json, "parquet": _Parquet}
    with ExitStack() as opened:  # each is closed, also where closing another fails on a full disk
        for name, path in paths.items():
            writers.append(kinds[name.rsplit(".", 1)[1]](table, path, schema))
            opened.callback(writers[-1].close)
        for part in parts:
            for writer in writers:
                writer.write(part)


class _Csv:
    def __init__(self, _table: str, path: Path, _schema: Any) -> None:
        self._file: IO[str] = path.open("w", encoding="utf-8", newline="\n")
        self._begun = False

    def write(self, part: FactsTable) -> None:
        lines = "".join(csv_lines([part]))
        self._file.write(lines.partition("\n")[2] if self._begun else lines)
        self._begun = True

    def close(self) -> None:
        self._file.close()


class _Json:
    def __init__(self, table: str, path: Path, _schema: Any) -> None:
        self._file: IO[str] = path.open("w", encoding="utf-8", newline="\n")
        self._file.write(f'{{"made_by": "{MADE_BY}", "table": "{table}", "rows": [')
        self._before = "\n"

    def write(self, part: FactsTable) -> None:
        for row in part.rows:
            document = dict(zip(part.columns, row, strict=True))
            self._file.write(self._before + json.dumps(document, ensure_ascii=False, allow_nan=False))
            self._before = ",\n"

    def close(self) -> None:
        with self._file:
            self._file.write("\n]}\n")


class _Parquet:
    def __init__(self, _table: str, path: Path, schema: Any) -> None:
        self._path, self._schema = path, schema
        self._writer: Any = None

    def write(self, part: FactsTable) -> None:
        import pyarrow as pa
        import pyarrow.parquet as pq

        columns = zip(*part.rows, strict=True) if part.rows else [()] * len(part.columns)
        data = pa.table(dict(zip(part.columns, map(list, columns), strict=True)), schema=self._schema())
        data = data.replace_schema_metadata({"made_by": MADE_BY})
        if self._writer is None:
            self._writer = pq.ParquetWriter(self._path, data.schema, compression="zstd")
        self._writer.write_table(data)

    def close(self) -> None:
        if self._writer is not None:
            self._writer.close()


def _schema_of(columns: dict[str, str]) -> pa.Schema:
    import pyarrow as pa

    kinds = {"INTEGER": pa.int64(), "REAL": pa.float64(), "TEXT": pa.string()}
    return pa.schema([(name, kinds[kind]) for name, kind in columns.items()])


def _cell(value: Any) -> Any:
    if isinstance(value, float):
        return f"{value:.10g}"
    if not isinstance(value, str):
        return value
    # Printed to a terminal, a byte from a file name could steer it.
    return plain("'" + value if value.startswith(_RUN_BY_SPREADSHEETS) else value)
