"""CSV, JSON and Parquet hold the same numbers, with units in the names."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow.parquet as pq
import pytest

from auditor.analysis.kit_table import kit_table
from auditor.errors import OutputError
from auditor.jobs.scan import scan
from auditor.report.tables import write_kits
from auditor.report.write import FORMATS, write_report
from auditor.settings import Settings
from auditor.store import frame_facts
from auditor.store.logbook import open_logbook
from tests.frame_files import Shot, write_card
from tests.report.made_answers import kit_row


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The tables of nine frames, written four at a time; the first frames lack what the last have."""
    shots = [
        Shot(number=n, after_s=600.0 * n, lens=None if n < 6 else "Long 500mm f/5.6") for n in range(1, 10)
    ]
    write_card(tmp_path / "card", shots)
    logbook = tmp_path / "logbook.sqlite"
    scan(logbook, [tmp_path / "card"], Settings())
    whole = frame_facts.table_in_parts
    monkeypatch.setattr(frame_facts, "table_in_parts", lambda *wanted: whole(*wanted, most_rows=4))
    with open_logbook(logbook) as book:
        write_report(book, tmp_path / "out", trip=None, formats=FORMATS)
        (table,) = whole(book)
        pd.DataFrame(table.rows, columns=table.columns).to_pickle(tmp_path / "view.pickle")
        pd.DataFrame(map(asdict, kit_table(book))).to_pickle(tmp_path / "kits.pickle")
    return tmp_path


def texts(column: pd.Series[Any]) -> list[str]:
    return ["" if pd.isna(value) else str(value) for value in column]


def as_read(folder: Path, table: str) -> dict[str, pd.DataFrame]:
    document = json.loads((folder / "out" / f"{table}.json").read_text(encoding="utf-8"))
    assert document["table"] == table
    return {
        "csv": pd.read_csv(folder / "out" / f"{table}.csv"),
        "json": pd.DataFrame(document["rows"]),
        "parquet": pd.read_parquet(folder / "out" / f"{table}.parquet"),
    }


def test_json_holds_no_number_that_is_none(tmp_path: Path) -> None:
    """RFC 8259, section 6: infinity and NaN are not permitted; other programs refuse the whole file."""
    for number in (float("nan"), float("inf")):
        with pytest.raises(ValueError, match="JSON"):
            write_kits([kit_row(median_iso=number)], {"kits.json": tmp_path / "kits.json"})


@pytest.mark.parametrize(("table", "kept"), [("frames", "view"), ("kits", "kits")])
def test_each_format_holds_the_table(folder: Path, table: str, kept: str) -> None:
    expected = pd.read_pickle(folder / f"{kept}.pickle")
    for kind, found in as_read(folder, table).items():
        assert list(found.columns) == list(expected.columns), kind
        assert len(found) == len(expected)
        for name in expected.columns:
            if name != "path" and pd.api.types.is_numeric_dtype(expected[name]):
                pd.testing.assert_series_equal(found[name], expected[name], check_dtype=False, rtol=1e-9)
            elif name != "path":
                assert texts(found[name]) == texts(expected[name]), (kind, name)


def test_parquet_has_one_type_a_column_whatever_is_missing(folder: Path) -> None:
    schema = pq.read_schema(folder / "out" / "frames.parquet")
    kinds = {name: str(schema.field(name).type) for name in schema.names}
    assert kinds["iso"] == kinds["blur_urad"] == kinds["focal_length_mm"] == "double"
    assert kinds["frame_id"] == kinds["width_px"] == "int64"
    assert kinds["lens_name"] == kinds["path"] == kinds["missing"] == kinds["verdict"] == "string"


def test_nothing_measured_has_no_unit_in_its_name(folder: Path) -> None:
    """Every column of numbers ends in a unit, or is a count, an id, a ratio or a place by its nature."""
    plain = {
        "f_number", "f_number_recorded", "lens_widest_f_number", "iso", "iso_without_converter",
        "converter_factor", "crop_factor", "auto_iso", "flash_fired", "rating", "af_x", "af_y", "af_width",
        "af_height", "hit_probability",
    }  # fmt: skip
    units = ("_mm", "_s", "_ev", "_um", "_px", "_m", "_urad", "_id")
    with_numbers = [
        field.name
        for field in pq.read_schema(folder / "out" / "frames.parquet")
        if str(field.type) != "string"
    ]
    assert len(with_numbers) > 25
    assert [name for name in with_numbers if not name.endswith(units) and name not in plain] == []


def test_parquet_without_its_package_is_one_line_before_anything_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_card(tmp_path / "card", [Shot()])
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with (
        open_logbook(tmp_path / "logbook.sqlite") as book,
        pytest.raises(OutputError, match=r"auditor\[parquet\]"),
    ):
        write_report(book, tmp_path / "out", trip=None, formats=FORMATS)
    assert not (tmp_path / "out").exists()
