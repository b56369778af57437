"""Small cards and folders for handing over, and what lies in them."""

from __future__ import annotations

from pathlib import Path

from auditor.keepers import sidecar_text
from auditor.keepers.files import digest
from auditor.keepers.plan import Move, Plan, plan
from auditor.store.candidates import Candidate, sifted
from auditor.store.conditions import Conditions
from auditor.store.logbook import Logbook
from auditor.store.receipts import Way
from auditor.words import Verdict

CARD = {
    "a/X_0001.JPG": b"one",
    "a/X_0001.xmp": b"<x/>",
    "b/x_0001.jpg": b"other",
    "b/X_0002.JPG": b"two",
}


def every_frame(book: Logbook) -> list[Candidate]:
    """All frames of a logbook as the filter gives them, those included whose files have gone."""
    return sifted(book, Conditions(verdicts=tuple(Verdict))).kept


def write_card(folder: Path) -> Path:
    for name, data in CARD.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


def frames(card: Path) -> list[list[Path]]:
    return [
        [card / "a/X_0001.JPG", card / "a/X_0001.xmp"],
        [card / "b/x_0001.jpg"],
        [card / "b/X_0002.JPG"],
    ]


def listing(folder: Path) -> dict[str, bytes | str | None]:
    """Everything below a folder: bytes of files, where links lead, None for folders."""
    found: dict[str, bytes | str | None] = {}
    for path in folder.rglob("*"):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            found[name] = f"-> {path.readlink()}"
        else:
            found[name] = None if path.is_dir() else path.read_bytes()
    return found


def sidecars(folder: Path) -> Plan:
    """A rating into one sidecar that is there, one in a new folder, one beside it."""
    made = Plan(way="sidecar", folder=folder)
    for name in ("old.xmp", "new/first.xmp", "new/second.xmp"):
        target = folder / name
        now = target.read_bytes() if target.exists() else None
        content = sidecar_text.with_facts(now, rating=4, keywords=["otter"])
        made.moves.append(
            Move(
                source=folder / "picture.JPG", target=target, size_bytes=len(content),
                there_already=content == now, content=content,
                hash_before=None if now is None else digest(target),
            )
        )  # fmt: skip
    return made


def write_place(place: Path) -> None:
    """A card, and a folder that holds something already."""
    write_card(place / "card")
    (place / "keepers").mkdir()
    (place / "keepers" / "mine.txt").write_bytes(b"mine")
    (place / "keepers" / "old.xmp").write_bytes(
        sidecar_text.with_facts(None, rating=None, keywords=["heron"])
    )


def planned(place: Path, way: Way) -> Plan:
    if way == "sidecar":
        return sidecars(place / "keepers")
    return plan(frames(place / "card"), place / "keepers" / "trip", way=way)
