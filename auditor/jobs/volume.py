"""Which disk or card a path lies on."""

from __future__ import annotations

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


def _mount_of(path: Path) -> Mount | None:
    absolute = path.absolute()
    try:
        mounts = psutil.disk_partitions(all=True)
    except OSError:  # a system that does not tell: every path is on its root, and no share
        return None
    holding = [mount for mount in mounts if absolute.is_relative_to(mount.mountpoint)]
    return max(holding, key=lambda mount: len(mount.mountpoint), default=None)
