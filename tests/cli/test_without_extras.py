"""The default install: only Parquet, and raws without a JPEG of full size, need the extras."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.frame_files import Shot, write_card

BLOCKED = (
    "import sys; sys.modules['pyarrow'] = sys.modules['rawpy'] = None; "
    "from auditor.cli.main import main; main()"
)


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", BLOCKED, *map(str, arguments)], capture_output=True, text=True, check=False
    )


def test_an_audit_and_its_tables_without_the_extras(tmp_path: Path) -> None:
    write_card(tmp_path / "card", [Shot(number=n, after_s=n * 700.0) for n in range(1, 4)])
    (tmp_path / "card" / "cut.dng").write_bytes(b"II*\0")
    logbook, out = tmp_path / "logbook.sqlite", tmp_path / "out"
    audited = run("audit", tmp_path / "card", "--logbook", logbook, "--into", out)
    assert audited.returncode == 3, audited.stderr
    assert (out / "report.html").exists()
    refused = run("report", "--format", "csv,parquet", "--into", tmp_path / "more", "--logbook", logbook)
    assert refused.returncode == 1
    (line,) = refused.stderr.strip().splitlines()
    assert 'python -m pip install "auditor[parquet]"' in line
    assert not (tmp_path / "more").exists()
    done = run("report", "--format", "csv,json", "--into", tmp_path / "more", "--logbook", logbook)
    assert done.returncode == 0, done.stderr
    assert len(list((tmp_path / "more").iterdir())) == 4
