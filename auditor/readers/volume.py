"""Which disk or card a path lies on."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import psutil

from auditor.file_names import as_text

if TYPE_CHECKING:
    from psutil._ntuples import sdiskpart as Mount

_NETWORK_TYPES = frozenset(
    [
        "nfs",
        "nfs4",
        "cifs",
        "smb",
        "smb2",
        "smb3",
        "smbfs",
        "afpfs",
        "webdav",
        "davfs",
        "fuse.sshfs",
        "9p",
        "afs",
        "ceph",
        "glusterfs",
        "fuse.glusterfs",
        "ncpfs",
    ]
)


_WINDOWS_TYPES = frozenset(
    ["vfat", "fat", "fat32", "msdos", "exfat", "ntfs", "ntfs3", "fuseblk", "fuse.ntfs", "fuse.ntfs-3g",
     "fuse.exfat", "cifs", "smb", "smb2", "smb3", "smbfs"]
)  # fmt: skip
"""Disks that are made for Windows, or shared by it: others may take its names, these need them."""


def volume_of(path: Path) -> str:
    """The mount point (or drive) that a path lies on, as text.

    Parameters
    ----------
    path
        Of a file or folder.

    Returns
    -------
    str
        Such as `/media/card` or `E:\\`.
    """
    mount = _mount_of(path)
    return as_text(mount.mountpoint) if mount else path.absolute().anchor


def on_network_share(path: Path) -> bool:
    """Whether a path lies on another machine.

    Parameters
    ----------
    path
        Of a file or folder.

    Returns
    -------
    bool
        False where the system does not say.
    """
    if str(path.absolute()).startswith("\\\\"):  # a UNC path names a share outright
        return True
    mount = _mount_of(path)
    return mount is not None and (mount.fstype.lower() in _NETWORK_TYPES or "remote" in mount.opts.split(","))


def needs_windows_names(path: Path) -> bool:
    """Whether files below a path can only bear names that Windows allows.

    Parameters
    ----------
    path
        Of a file or folder, which need not be there yet.

    Returns
    -------
    bool
        On Windows always; elsewhere on disks that are made for it.
    """
    if os.name == "nt":
        return True
    mount = _mount_of(path)
    return mount is not None and mount.fstype.lower() in _WINDOWS_TYPES


def _mount_of(path: Path) -> Mount | None:
    absolute = path.absolute()
    try:
        mounts = psutil.disk_partitions(all=True)
    except OSError:  # a system that does not tell: every path is on its root, and no share
        return None
    holding = [mount for mount in mounts if absolute.is_relative_to(mount.mountpoint)]
    return max(holding, key=lambda mount: len(mount.mountpoint), default=None)
