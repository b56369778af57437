"""Which disk a path lies on, and whether that is another machine's.

What systems call their network file systems: mount(8) and proc(5) of Linux (nfs4, cifs, fuse.sshfs),
mount_smbfs(8) and mount_afp(8) of macOS; psutil's documentation, disk_partitions: on Windows `opts` says
"remote" (all R).
"""

from __future__ import annotations

import os
from pathlib import Path, PureWindowsPath
from typing import NamedTuple

import psutil
import pytest

from auditor.readers.volume import needs_windows_names, on_network_share, volume_of


class Mount(NamedTuple):
    """As psutil tells of one."""

    device: str
    mountpoint: str
    fstype: str
    opts: str = "rw"


ROOT = Mount("/dev/sda1", "/", "ext4")
SHARE = Mount("server:/photos", "/mnt/photos", "nfs4")


@pytest.fixture
def mounts(monkeypatch: pytest.MonkeyPatch) -> list[Mount]:
    """What the system says is mounted; all of it must be asked for, since shares are not physical disks."""
    there = [ROOT]
    monkeypatch.setattr(psutil, "disk_partitions", lambda all: there if all else there[:1])
    return there


@pytest.mark.parametrize(
    ("fstype", "opts", "share"),
    [
        ("nfs", "rw", True),
        ("nfs4", "rw,relatime", True),
        ("cifs", "rw", True),
        ("smb3", "rw", True),
        ("smbfs", "rw", True),
        ("afpfs", "rw", True),
        ("fuse.sshfs", "rw,nosuid", True),
        ("NFS", "rw", True),
        ("NTFS", "rw,remote", True),
        ("NTFS", "rw,fixed", False),
        ("exfat", "rw,removable", False),
        ("apfs", "rw,local", False),
        ("fuse.ntfs", "rw", False),
        ("ext4", "rw,remote_name=x", False),
    ],
)
def test_kinds_of_file_systems(mounts: list[Mount], fstype: str, opts: str, share: bool) -> None:
    mounts.append(Mount("somewhere", "/mnt/photos", fstype, opts))
    assert on_network_share(Path("/mnt/photos/2026/logbook.sqlite")) is share
    assert volume_of(Path("/mnt/photos/2026")) == "/mnt/photos"


def test_the_deepest_mount_counts_and_names_that_only_begin_alike_do_not(mounts: list[Mount]) -> None:
    mounts += [SHARE, Mount("/dev/sdb1", "/mnt/photos/card", "exfat")]
    assert on_network_share(Path("/mnt/photos"))
    assert not on_network_share(Path("/mnt/photos/card/DCIM"))
    assert not on_network_share(Path("/mnt/photos-at-home"))
    assert volume_of(Path("/mnt/photos-at-home")) == "/"


def test_a_relative_path_is_where_it_stands(
    mounts: list[Mount], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mounts.append(Mount("server:/x", str(tmp_path), "nfs"))
    monkeypatch.chdir(tmp_path)
    assert on_network_share(Path("logbook.sqlite"))


def test_a_unc_path_names_a_share_outright(mounts: list[Mount]) -> None:
    class UncPath(PureWindowsPath):
        def absolute(self) -> UncPath:
            return self

    assert on_network_share(UncPath(r"\\server\photos\logbook.sqlite"))  # type: ignore[arg-type]  # Windows' own kind


def test_a_system_that_does_not_tell(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(all: bool) -> list[Mount]:
        raise PermissionError("not allowed")

    monkeypatch.setattr(psutil, "disk_partitions", refuse)
    assert not on_network_share(Path("/mnt/photos"))
    assert volume_of(Path("/mnt/photos")) == "/"


@pytest.mark.skipif(os.name == "nt", reason="asks this system's own mounts as POSIX has them")
def test_on_this_machine_it_is_the_nearest_mount_point_above(tmp_path: Path) -> None:
    """Reference: os.path.ismount of the standard library."""
    folder = tmp_path.resolve()
    while not os.path.ismount(folder):
        folder = folder.parent
    assert volume_of(tmp_path.resolve()) == str(folder)


@pytest.mark.skipif(os.name == "nt", reason="there it is so on every disk")
@pytest.mark.parametrize(
    ("fstype", "needs"),
    [
        # proc(5) and mount(8) of Linux; diskutil(8) and mount_smbfs(8) of macOS.
        ("vfat", True), ("exfat", True), ("ntfs3", True), ("fuseblk", True), ("msdos", True), ("cifs", True),
        ("smbfs", True), ("NTFS", True), ("ext4", False), ("apfs", False), ("hfs", False), ("nfs4", False),
    ],
)  # fmt: skip
def test_disks_that_take_only_names_that_windows_allows(
    mounts: list[Mount], tmp_path: Path, fstype: str, needs: bool
) -> None:
    mounts.append(Mount("/dev/sdb1", str(tmp_path), fstype))
    assert needs_windows_names(tmp_path / "keepers") is needs
    assert needs_windows_names(tmp_path.parent) is False
