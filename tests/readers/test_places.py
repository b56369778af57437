"""Folders known again on disks that take two spellings for one name, as those of Windows and macOS do.

Such a disk is played by two functions; paths of Windows are taken apart by PureWindowsPath.
"""

from __future__ import annotations

import ntpath
import os
import sys
from collections.abc import Iterable
from pathlib import Path, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.file_names import allowed_on_windows, known_as
from auditor.readers.places import as_listed, holding
from auditor.store.paths import path_range

COMPOSED, APART = "Caf\u00e9", "Cafe\u0301"  # Unicode Standard Annex 15: normal forms C and D of one word
DISK = {
    "/": ["Volumes"],
    "/Volumes": ["Card"],
    "/Volumes/Card": ["DCIM", "dcim", APART],
    "/Volumes/Card/DCIM": [],
}


def names_in(folder: Path) -> Iterable[str]:
    """A disk that finds a folder by any spelling of its path."""
    for path, names in DISK.items():
        if known_as(path) == known_as(str(folder)):
            return names
    raise FileNotFoundError(folder)


def same(one: Path, other: Path) -> bool:
    return known_as(str(one)) == known_as(str(other))


@pytest.mark.parametrize(
    ("typed", "listed"),
    [
        ("/volumes/CARD", "/Volumes/Card"),
        ("/Volumes/Card/DCIM", "/Volumes/Card/DCIM"),
        ("/Volumes/Card/dcim", "/Volumes/Card/dcim"),
        (f"/volumes/card/{COMPOSED}", f"/Volumes/Card/{APART}"),
        (f"/Volumes/Card/{COMPOSED.upper()}", f"/Volumes/Card/{APART}"),
        ("/Volumes/Card/none/there", "/Volumes/Card/none/there"),
        ("/", "/"),
    ],
)
def test_names_are_as_their_folder_lists_them(typed: str, listed: str) -> None:
    assert as_listed(Path(typed), names_in=names_in, same=same) == Path(listed)


def test_names_that_are_alike_and_lead_elsewhere_stay_apart() -> None:
    """On a disk that tells upper from lower case."""
    listed = as_listed(Path("/volumes"), names_in=names_in, same=lambda _one, _other: False)
    assert listed == Path("/volumes")


def test_on_this_disk_a_path_is_what_it_is(tmp_path: Path) -> None:
    (tmp_path / "One").mkdir()
    assert as_listed((tmp_path / "One").resolve()) == (tmp_path / "One").resolve()
    assert as_listed((tmp_path / "none").resolve()) == (tmp_path / "none").resolve()


def test_a_place_lies_in_a_folder_by_whatever_name(tmp_path: Path) -> None:
    card, other = tmp_path / "card", tmp_path / "cards"
    (card / "DCIM").mkdir(parents=True)
    other.mkdir()
    (tmp_path / "link").symlink_to(card)
    assert holding(card / "DCIM" / "new" / "report", [str(other), str(card)]) == str(card)
    assert holding(card / "DCIM", [tmp_path / "link"]) == tmp_path / "link", "known by number, not by name"
    assert holding(other / "report", [str(card), tmp_path / "link"]) is None
    assert holding(tmp_path / "gone" / "a", [str(tmp_path / "gone")]) == str(tmp_path / "gone")


@pytest.mark.parametrize(
    ("folder", "inside", "outside"),
    [
        ("E:\\", "E:\\DCIM\\100TEST\\A.JPG", "F:\\DCIM\\A.JPG"),
        ("E:\\DCIM", "E:\\DCIM\\A.JPG", "E:\\DCIM2\\A.JPG"),
        ("\\\\nas\\photos", "\\\\nas\\photos\\2026\\A.JPG", "\\\\nas\\photos2\\A.JPG"),
        ("\\\\nas\\photos\\", "\\\\nas\\photos\\A.JPG", "\\\\nas2\\photos\\A.JPG"),
    ],
)
def test_paths_of_windows_below_a_folder(folder: str, inside: str, outside: str) -> None:
    low, high = path_range(folder, "\\")
    assert low <= inside < high
    assert not low <= outside < high
    assert PureWindowsPath(inside).is_relative_to(folder)
    assert not PureWindowsPath(outside).is_relative_to(folder)


@pytest.mark.skipif(os.sep != "/", reason="a name of other systems")
def test_a_folder_may_end_in_a_backslash_where_that_is_a_letter() -> None:
    low, high = path_range("/media/card\\")
    assert low <= "/media/card\\/A.JPG" < high
    assert not low <= "/media/card/A.JPG" < high


@pytest.mark.parametrize(
    ("name", "allowed"),
    [
        # Microsoft, Naming Files, Paths, and Namespaces: letters, devices, and what no name ends with.
        ("IMG_0001.JPG", "IMG_0001.JPG"),
        ("heron 10:30?.JPG", "heron 10_30_.JPG"),
        ('a<b>c"d/e\\f|g*h.NEF', "a_b_c_d_e_f_g_h.NEF"),
        ("line\nbreak.JPG", "line_break.JPG"),
        ("CON", "CON_"),
        ("nul.JPG", "nul_.JPG"),
        ("Aux .tar.gz", "Aux_.tar.gz"),
        ("COM1.xmp", "COM1_.xmp"),
        ("lpt\u00b2.xmp", "lpt\u00b2_.xmp"),
        ("COM0.xmp", "COM0.xmp"),
        ("CONSOLE.JPG", "CONSOLE.JPG"),
        ("trailing.", "trailing_"),
        ("dots and blanks . .", "dots and blanks____"),
        (".hidden", ".hidden"),
        ("カワセミ.JPG", "カワセミ.JPG"),
    ],
)
def test_the_nearest_name_that_windows_allows(name: str, allowed: str) -> None:
    assert allowed_on_windows(name) == allowed


def windows_reserves(name: str) -> bool:
    """By Python's own list, which has moved from pathlib to ntpath in 3.13."""
    if sys.version_info >= (3, 13):
        return ntpath.isreserved(name)
    return PureWindowsPath(name).is_reserved()


@given(st.text(min_size=1, max_size=30))
def test_any_name_becomes_one_that_windows_allows(name: str) -> None:
    """Reference: Python's own list of what Windows reserves."""
    allowed = allowed_on_windows(name)
    assert allowed
    assert not windows_reserves(allowed)
    assert PureWindowsPath("C:\\keepers", allowed).name == allowed
    assert allowed_on_windows(allowed) == allowed
