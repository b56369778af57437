"""Tables that other programs read: CSV, JSON and Parquet, their units in the names of their columns."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, fields
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from auditor.analysis.kit_table import KitRow
from auditor.errors import OutputError
from auditor.report.listing import below
from auditor.report.rows import json_rows
from auditor.store.logbook import Logbook
from auditor.store.tables import frame_columns, frame_facts_in_parts

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa

MADE_BY = "auditor"
BEGINNINGS = ("frame_id,trip_id,", "kit_id,kit_name,", f'{{"made_by": "{MADE_BY}"')
"""How our CSV and JSON begin: what begins otherwise is someone else's."""

_RUN_BY_SPREADSHEETS = ("=", "+", "-", "@", "\t", "\r")
"""Cells that begin like this are run as formulas by spreadsheets: a lens name must not be."""


def csv_text(table: pd.DataFrame, *, header: bool = True) -> str:
    """A table as CSV: UTF-8, one line a row, numbers to ten digits, nothing where nothing is known.

    A text that a spreadsheet would run as a formula gets an apostrophe in front.
    """
    safe = table.copy()
    for name in safe.columns:
        if safe[name].dtype == object or str(safe[name].dtype) in ("str", "string"):
            safe[name] = safe[name].map(_harmless, na_action="ignore")
    return str(safe.to_csv(index=False, header=header, lineterminator="\n", float_format="%.10g"))


def check_parquet() -> None:
    """Raise an OutputError where Parquet cannot be written here."""
    try:
        import pyarrow  # noqa: F401
    except ImportError as error:
        raise OutputError(
            'Parquet needs a package that is not installed: python -m pip install "auditor[parquet]". '
            "Or choose other formats with --format html,csv,json."
        ) from error


def write_frames(logbook: Logbook, trip_id: int | None, folders: list[str], paths: dict[str, Path]) -> None:
    """Write the frames, a part at a time, into frames.csv, frames.json and frames.parquet, as asked for."""
    _write(
        "frames", _frame_parts(logbook, trip_id, folders), paths, lambda: _schema_of(frame_columns(logbook))
    )


def write_kits(kits: Sequence[KitRow], paths: dict[str, Path]) -> None:
    """Write the kit table into kits.csv, kits.json and kits.parquet, as asked for."""
    import pandas as pd

    table = pd.DataFrame([asdict(kit) for kit in kits], columns=[field.name for field in fields(KitRow)])
    _write("kits", [table], paths, lambda: None)


def parquet_is_ours(path: Path) -> bool:
    """Whether a Parquet file says that the auditor made it."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        return (pq.read_metadata(path).metadata or {}).get(b"made_by") == MADE_BY.encode()
    except (pa.ArrowException, OSError):
        return False


def _frame_parts(logbook: Logbook, trip_id: int | None, folders: list[str]) -> Iterable[pd.DataFrame]:
    for part in frame_facts_in_parts(logbook, trip_id):
        part["path"] = [below(path, folders) for path in part["path"]]
        yield part


def _write(table: str, parts: Iterable[pd.DataFrame], paths: dict[str, Path], schema: Any) -> None:
    writers: list[Any] = []
    kinds = {"csv": _Csv, "json": _Json, "parquet": _Parquet}
    try:
        for name, path in paths.items():
            writers.append(kinds[name.rsplit(".", 1)[1]](table, path, schema))
        for part in parts:
            for writer in writers:
                writer.write(part)
    finally:
        for writer in writers:
            writer.close()


class _Csv:
    def __init__(self, _table: str, path: Path, _schema: Any) -> None:
        self._file: IO[str] = path.open("w", encoding="utf-8", newline="\n")
        self._begun = False

    def write(self, part: pd.DataFrame) -> None:
        self._file.write(csv_text(part, header=not self._begun))
        self._begun = True

    def close(self) -> None:
        self._file.close()


class _Json:
    def __init__(self, table: str, path: Path, _schema: Any) -> None:
        self._file: IO[str] = path.open("w", encoding="utf-8", newline="\n")
        self._file.write(f'{{"made_by": "{MADE_BY}", "table": "{table}", "rows": [')
        self._before = "\n"

    def write(self, part: pd.DataFrame) -> None:
        for row in json_rows(part):
            self._file.write(self._before + json.dumps(row, ensure_ascii=False, allow_nan=False))
            self._before = ",\n"

    def close(self) -> None:
        self._file.write("\n]}\n")
        self._file.close()


class _Parquet:
    def __init__(self, _table: str, path: Path, schema: Any) -> None:
        self._path, self._schema = path, schema
        self._writer: Any = None

    def write(self, part: pd.DataFrame) -> None:
        import pyarrow as pa
        import pyarrow.parquet as pq

        data = pa.Table.from_pandas(part, schema=self._schema(), preserve_index=False)
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


def _harmless(value: Any) -> Any:
    return "'" + value if isinstance(value, str) and value.startswith(_RUN_BY_SPREADSHEETS) else value
