"""Whether the distributions in a folder are whole: python .ci/packages.py FOLDER, after `python -m build`.

The source distribution must hold every file that git tracks, and the wheel every one below auditor/.
"""

from __future__ import annotations

import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path


def tracked() -> set[str]:
    """What git tracks."""
    listed = subprocess.run(["git", "ls-files", "-z"], capture_output=True, check=True, text=True)
    return {name for name in listed.stdout.split("\0") if name}


def source_files(path: Path) -> set[str]:
    """The files of a source distribution, without the folder they lie in."""
    with tarfile.open(path) as archive:
        return {member.name.partition("/")[2] for member in archive if member.isfile()}


def main() -> None:
    """Compare, and end with 1 where something is missing or does not belong."""
    folder = Path(sys.argv[1])
    (source,), (wheel,) = folder.glob("*.tar.gz"), folder.glob("*.whl")
    files = tracked()
    held = source_files(source)
    made = {name for name in held if ".egg-info/" in name} | {"PKG-INFO", "setup.cfg"}
    product = {name for name in files if name.startswith("auditor/")}
    installed = {name for name in zipfile.ZipFile(wheel).namelist() if name.startswith("auditor/")}
    problems = [
        *(f"{source.name} lacks {name}" for name in sorted(files - held)),
        *(f"{source.name} holds {name}, which git does not track" for name in sorted(held - files - made)),
        *(f"{wheel.name} lacks {name}" for name in sorted(product - installed)),
        *(f"{wheel.name} holds {name}, which git does not track" for name in sorted(installed - product)),
    ]
    print("\n".join(problems) or f"{source.name}: {len(files)} files; {wheel.name}: {len(product)}: whole")
    sys.exit(bool(problems))


if __name__ == "__main__":
    main()
