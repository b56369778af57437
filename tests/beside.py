"""What may lie beside the repository, in a folder named `shared`: real camera files and sharp photographs."""

from __future__ import annotations

from pathlib import Path

import pytest

_SHARED = Path(__file__).resolve().parents[2] / "shared"
REAL_FRAMES = _SHARED / "real_frames"
PHOTOGRAPHS = _SHARED / "sharp_photos"
needs_real_frames = pytest.mark.skipif(
    not REAL_FRAMES.is_dir(), reason="no real camera files beside the repository"
)
needs_photographs = pytest.mark.skipif(
    not PHOTOGRAPHS.is_dir(), reason="no photographs beside the repository"
)
