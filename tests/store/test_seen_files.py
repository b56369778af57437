"""What a scan has not seen is told, whether it ticked files off one by one or from one path to another."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from auditor.store.logbook import Logbook, open_logbook
from auditor.store.seen_files import SeenFiles


def with_files(book: Logbook, paths: list[str]) -> dict[str, int]:
    with book.writing():
        return {
            path: book.execute(
                "INSERT INTO files (role, volume, path, stem, present, size_bytes, modified_at, fingerprint, "
                "recorded) VALUES ('jpeg', '/', ?, '', 1, 1, '', ?, '{}')",
                (path, path),
            )
            for path in paths
        }


@pytest.mark.parametrize("seed", range(20))
def test_whatever_was_not_seen_is_missed(tmp_path: Path, seed: int) -> None:
    chance = Random(seed)
    paths = sorted(f"/card/{chance.choice('abc')}/{number:03d}.jpg" for number in range(60))
    with open_logbook(tmp_path / "logbook.sqlite", create=True) as book:
        ids = with_files(book, [*paths, "/card2/001.jpg", "/card-a.jpg"])
        seen = SeenFiles(book, "/card")
        missed = []
        place = 0
        while place < len(paths):
            some = paths[place : place + chance.randrange(1, 9)]
            place += len(some)
            how = chance.choice(["span", "one by one", "not"]) if seed else "span"
            if how == "span":
                seen.add_span(some[0], some[-1], len(some))
            elif how == "one by one":
                seen.add([ids[path] for path in some])
            else:
                missed += [(ids[path], path) for path in some]
        assert sorted(seen.files_missed()) == sorted(missed)
