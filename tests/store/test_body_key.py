"""The key of a body is the same in Python and in SQL, also where the file records only a part of it."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from itertools import product
from pathlib import Path

import pytest

import auditor
from auditor.records import Recorded
from auditor.store.body_key import body_key, body_key_sql


@pytest.mark.parametrize(
    ("make", "model", "serial"),
    list(product((None, "Testmaker"), (None, "Body One"), (None, "1001"))),
)
def test_python_and_sql_agree(make: str | None, model: str | None, serial: str | None) -> None:
    key = body_key(Recorded(body_make=make, body_model=model, body_serial=serial))
    sql = f"SELECT {body_key_sql('f')} FROM (SELECT ? AS body_make, ? AS body_model, ? AS body_serial) AS f"
    with closing(sqlite3.connect(":memory:")) as connection:
        assert connection.execute(sql, (make, model, serial)).fetchone() == (key,)


def test_no_query_spells_it_by_itself() -> None:
    spelled = re.compile(r"body_make\b[^,\n]{0,12}\|\|")
    modules = Path(auditor.__file__).parent.rglob("*.py")
    assert [path.name for path in modules if spelled.search(path.read_text(encoding="utf-8"))] == []
