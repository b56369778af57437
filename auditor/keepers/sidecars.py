"""Which sidecars are written where, and what goes into them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from auditor.errors import OutputError
from auditor.file_names import allowed_on_windows, as_path, as_text, known_as
from auditor.keepers import sidecar_text
from auditor.keepers.files import digest
from auditor.keepers.plan import GONE, Move, Plan, check_outside, check_room, check_writable, resolved
from auditor.readers.frame import fingerprint_of
from auditor.readers.kinds import role_of_name
from auditor.readers.source import ByteSource
from auditor.readers.volume import needs_windows_names
from auditor.store import scans
from auditor.store.candidates import Candidate, OwnMarks, own_marks
from auditor.store.frame_files import files_of, frame_of
from auditor.store.logbook import Logbook
from auditor.store.receipts import WrittenRating, written_rating
from auditor.words import FileRole


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What the photographer wants written of a keeper."""

    rating: int | None = None
    """xmp:Rating: 0 to 5, or -1 for rejected."""
    keywords: tuple[str, ...] = ()
    flag_keywords: Mapping[str, str] = field(default_factory=dict)
    """Flag -> the keyword of frames that have it."""
    replace_ratings: bool = False
    """Also where there is a rating; otherwise it stays."""

    def keywords_of(self, own: OwnMarks) -> list[str]:
        """The keywords of one frame.

        Parameters
        ----------
        own
            What the frame bears.

        Returns
        -------
        list[str]
            Those for all, and those that follow from its facts.
        """
        return [
            *self.keywords,
            *(self.flag_keywords[flag] for flag in own.flags if flag in self.flag_keywords),
        ]


def plan_sidecars(logbook: Logbook, keepers: Iterable[Candidate], marks: Marks, folder: Path | None) -> Plan:
    """What would be written where.

    Parameters
    ----------
    keepers
        Frames that passed, in order of time.
    marks
        The rating and keywords to write.
    folder
        Where the sidecars go, with the paths that their pictures have below the scanned folder; where
        pictures of several scanned folders are among them, the folder's name comes first. None: beside the
        originals.

    Returns
    -------
    Plan
        One sidecar a frame, with its whole text.

    Raises
    ------
    OutputError
        for a folder inside a scanned one, or a disk without enough room.
    """
    keepers = list(keepers)
    ids = [keeper.frame_id for keeper in keepers]
    frames, own = files_of(logbook, ids), own_marks(logbook, ids)
    real = None if folder is None else resolved(folder)
    plan = Plan(way="sidecar", folder=real)
    places = None
    if real is not None:
        places = _Places(real, scans.folders(logbook), frames)
        check_writable(real)
    claimed: dict[str, int] = {}
    for keeper, paths in zip(keepers, frames, strict=True):
        known = [path for path in paths if role_of_name(path.name) == FileRole.SIDECAR]
        pictures = {(path.parent, path.stem): path for path in paths if path not in known}
        if not pictures:
            plan.left_out.append((as_path(keeper.path or ""), GONE))
        for picture in pictures.values():
            beside = _beside(logbook, keeper.frame_id, picture, known)
            target = _target(picture, beside, keeper.frame_id, places, claimed)
            if target is None:
                plan.left_out.append((picture, "another frame's sidecar has its name"))
            else:
                _add(logbook, plan, picture, target, beside, own[keeper.frame_id], marks)
    if real is not None:
        check_room(plan.moves, real)
    return plan


def _target(
    picture: Path, beside: Path, frame_id: int, places: _Places | None, claimed: dict[str, int]
) -> Path | None:
    """Where a picture's sidecar goes; None where other frames have its names, as `claimed` tells."""
    folder = beside.parent if places is None else places.of(picture)
    named = str if places is None else places.named
    for name in (beside.name, f"{picture.name}.xmp"):  # the second where another frame's picture has its stem
        target = folder / named(name)
        if claimed.setdefault(known_as(str(target)), frame_id) == frame_id:
            return target
    return None


@dataclass(frozen=True, slots=True)
class _Before:
    """What there is before a sidecar is written."""

    now: bytes | None
    """What the sidecar holds now; None where there is none."""
    base: bytes | None
    """What the marks are added to: that, or the sidecar beside the original; None where there is neither."""
    ours: WrittenRating | None
    """The rating in `base`, where an earlier run of ours wrote it."""
    rating: int | None
    """The photographer's own, in a sidecar or in the picture itself: both count as much. What we wrote does
    not count."""


def _before(logbook: Logbook, target: Path, beside: Path, own: OwnMarks) -> _Before:
    now = _content(target)
    base = now if now is not None else _content(beside)
    held = None if base is None else _rating_held(base)
    ours = None
    if base is not None and held is not None:
        place = target if now is not None else beside
        ours = written_rating(logbook, as_text(place), _fingerprint(base, place), held)
    rating = ours.before if ours else held if held is not None else own.rating
    return _Before(now, base, ours, rating or None)  # 0 is a rating that was not given


def _add(
    logbook: Logbook, plan: Plan, picture: Path, target: Path, beside: Path, own: OwnMarks, marks: Marks
) -> None:
    """Plan one sidecar: what is there, or what lies beside the original, or a new one, with the marks."""
    try:
        before = _before(logbook, target, beside, own)
        keeps = before.rating is not None and not marks.replace_ratings
        plan.ratings_kept += marks.rating is not None and keeps
        content = _new_content(before, own, marks, keeps)
    except (OSError, OutputError) as error:
        at_fault = beside if beside.exists() else target
        plan.left_out.append((at_fault, getattr(error, "strerror", None) or str(error)))
        return
    if content is None:
        return
    now, ours = before.now, before.ours
    writes = marks.rating if marks.rating is not None and not keeps else ours.rating if ours else None
    rated = None
    if writes is not None:
        rated = WrittenRating(rating=writes, before=before.rating, fingerprint=_fingerprint(content, target))
    plan.moves.append(
        Move(
            source=picture, target=target, size_bytes=len(content), there_already=content == now,
            content=content, hash_before=None if now is None else digest(target), rated=rated,
        )
    )  # fmt: skip


def _new_content(before: _Before, own: OwnMarks, marks: Marks, keeps: bool) -> bytes | None:
    """The whole text to write; None where there is nothing to say of this frame."""
    words = marks.keywords_of(own)
    if before.base is not None:
        return sidecar_text.with_facts(
            before.base,
            rating=None if keeps else marks.rating,
            keywords=words,
            replace_rating=marks.replace_ratings or before.ours is not None,
        )
    if not words and (keeps or marks.rating is None):
        return None
    # Many programs that find a sidecar look no further: a new one repeats what the picture itself says.
    return sidecar_text.with_facts(
        None,
        rating=before.rating if keeps else marks.rating,
        keywords=[*own.keywords, *words],
        replace_rating=marks.replace_ratings,
    )


def _fingerprint(content: bytes, path: Path) -> str:
    return fingerprint_of(ByteSource.of_bytes(content, path))


def _rating_held(content: bytes) -> int | None:
    """The rating that a sidecar holds; None where it holds none, or no whole number."""
    text = sidecar_text.rating_of(content)
    try:
        return None if text is None else int(text)
    except ValueError:
        return None


def _content(path: Path) -> bytes | None:
    """What a sidecar holds now; None where there is none."""
    if path.is_symlink():
        raise OutputError("is a link: left alone")
    return path.read_bytes() if path.exists() else None


def _beside(logbook: Logbook, frame_id: int, picture: Path, known: list[Path]) -> Path:
    """The sidecar of a picture: its own, where it has one, else its stem with .xmp (XMP part 3)."""
    sidecars = [path for path in known if path.parent == picture.parent]
    for path in sidecars:
        if path.name.casefold() in (f"{picture.stem}.xmp".casefold(), f"{picture.name}.xmp".casefold()):
            return path
    usual = picture.with_name(f"{picture.stem}.xmp")
    if usual.exists() and frame_of(logbook, usual) not in (None, frame_id):
        return picture.with_name(f"{picture.name}.xmp")
    return usual


class _Places:
    """Where sidecars go in a folder of their own."""

    def __init__(self, folder: Path, scanned: list[str], frames: list[list[Path]]) -> None:
        self.named = allowed_on_windows if needs_windows_names(folder) else str
        parents = {path.parent for paths in frames for path in paths}
        self._never = [*scanned, *map(as_text, sorted(parents))]
        roots = {parent: self._root(parent, scanned) for parent in sorted(parents)}
        names: dict[Path, str] = {}
        for root in dict.fromkeys(roots.values()):
            same = sum(known_as(root.name) == known_as(other_root.name) for other_root in names)
            names[root] = root.name if not same else f"{root.name}-{same + 1}"
        several = len(names) > 1
        self._of = {
            parent: folder.joinpath(
                *map(self.named, ((names[root],) if several else ()) + parent.relative_to(root).parts)
            )
            for parent, root in roots.items()
        }
        self._checked: set[Path] = set()

    def of(self, picture: Path) -> Path:
        """The folder of a picture's sidecar; links inside it must not lead to the originals."""
        place = self._of[picture.parent]
        if place not in self._checked:
            check_outside(place.resolve(), self._never)
            self._checked.add(place)
        return place

    @staticmethod
    def _root(parent: Path, scanned: list[str]) -> Path:
        holding = [Path(place) for place in scanned if parent.is_relative_to(place)]
        return max(holding, key=lambda place: len(place.parts), default=parent)
