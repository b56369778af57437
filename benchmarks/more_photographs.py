"""Cut the photographs that training had besides a folder of sharp ones, out of packages of the registries.

    python benchmarks/more_photographs.py PACKAGES OUT

PACKAGES holds, unpacked, Debian's lomiri-wallpapers-16.04 and lomiri-wallpapers-20.04, and the wheels
scikit_image-0.17.2 and scipy-1.9.3 from PyPI, which carry a few photographs. Their licences are in
auditor/focus/blur_credits.md. OUT is then what `train_focus.py --more` takes. Pieces that are soft in the
photograph, and bare sky, were left out by eye and where the reading before found over 0.85 px.
"""

from __future__ import annotations

import argparse
import bz2
import io
import zipfile
from pathlib import Path

import numpy as np
from PIL import Image

SIDE_PX = 512
WALLPAPERS = (
    ("Dragonfly_by_Bolly.jpg", 2, ((256, 768), (256, 1280), (768, 1024))),
    ("Dragonfly_by_Bolly.jpg", 3, ((0, 512), (512, 512))),
    ("Dragonfly_by_Bolly.jpg", 4, ((0, 512),)),
    ("Picture_0B_by_freespace.jpg", 2, ((0, 768), (256, 0))),
    ("Picture_0B_by_freespace.jpg", 3, ((0, 0),)),
    ("aitzgorri_by_Aitzol_Berasategi.jpg", 2, ((0, 768), (512, 0), (512, 768))),
    ("aitzgorri_by_Aitzol_Berasategi.jpg", 3, ((0, 512), (0, 0))),
    ("aitzgorri_by_Aitzol_Berasategi.jpg", 4, ((0, 0),)),
    ("friends_by_Aitzol_Berasategi.jpg", 2, ((512, 0), (0, 256))),
    ("friends_by_Aitzol_Berasategi.jpg", 3, ((0, 0), (512, 0))),
    ("friends_by_Aitzol_Berasategi.jpg", 4, ((0, 0),)),
    ("life_by_Aitzol_Berasategi.jpg", 2, ((512, 256), (0, 512), (0, 1024), (0, 0), (512, 768))),
    ("life_by_Aitzol_Berasategi.jpg", 3, ((0, 256),)),
    ("life_by_Aitzol_Berasategi.jpg", 4, ((0, 0),)),
    ("picosdeeuropa_by_Aitzol_Berasategi.jpg", 2, ((512, 512), (512, 0), (0, 512), (512, 1024), (0, 1024))),
    ("picosdeeuropa_by_Aitzol_Berasategi.jpg", 3, ((256, 256),)),
    ("picosdeeuropa_by_Aitzol_Berasategi.jpg", 4, ((0, 256),)),
    ("sunset_by_Aitzol_Berasategi.jpg", 2, ((768, 1024), (512, 1536), (768, 0), (768, 512))),
    ("sunset_by_Aitzol_Berasategi.jpg", 3, ((256, 768),)),
    ("sunset_by_Aitzol_Berasategi.jpg", 4, ((0, 0), (0, 512))),
    ("Kleiber_by_Lukas_Baubkus.jpg", 4, ((256, 256),)),
    ("Bridge_by_Sander_Klootwijk.jpg", 2, ((0, 768),)),
    ("Bridge_by_Sander_Klootwijk.jpg", 3, ((0, 256),)),
    ("Bridge_by_Sander_Klootwijk.jpg", 4, ((0, 512),)),
    ("Wine_by_Jakkub_Mede.jpg", 2, ((1024, 768), (1280, 0), (768, 0))),
    ("Wine_by_Jakkub_Mede.jpg", 3, ((512, 0),)),
    ("Wine_by_Jakkub_Mede.jpg", 4, ((256, 0),)),
    ("free_by_Peter_Nerlich.jpg", 2, ((512, 512),)),
    ("free_by_Peter_Nerlich.jpg", 3, ((0, 256),)),
    ("free_by_Peter_Nerlich.jpg", 4, ((0, 0),)),
)
"""File name, how many times it is scaled down, and the top and left of each piece after that, px."""
OF_WHEELS = ("grass.png", "gravel.png", "brick.png", "coffee.png", "chelsea.png")
RACCOON_PX = (768, 1024, 3)
RACCOON = ((0, 250), (256, 512), (128, 380), (256, 0))


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("packages", type=Path)
    arguments.add_argument("out", type=Path)
    chosen = arguments.parse_args()
    chosen.out.mkdir(parents=True, exist_ok=True)
    for name, times, places in WALLPAPERS:
        with Image.open(_only(chosen.packages, name)) as picture:
            size = (round(picture.width / times), round(picture.height / times))
            small = picture.convert("RGB").resize(size, Image.Resampling.LANCZOS)
        for top, left in places:
            _keep(small, top, left, chosen.out / f"{Path(name).stem}_{times}_{top}_{left}.webp")
    with zipfile.ZipFile(_only(chosen.packages, "scikit_image-0.17.2*.whl")) as wheel:
        for name in OF_WHEELS:
            with Image.open(io.BytesIO(wheel.read(f"skimage/data/{name}"))) as picture:
                _keep(picture.convert("RGB"), 0, 0, chosen.out / f"{Path(name).stem}.webp")
    with zipfile.ZipFile(_only(chosen.packages, "scipy-1.9.3*.whl")) as wheel:
        bare = np.frombuffer(bz2.decompress(wheel.read("scipy/misc/face.dat")), np.uint8)
    raccoon = Image.fromarray(bare.reshape(RACCOON_PX))
    for top, left in RACCOON:
        _keep(raccoon, top, left, chosen.out / f"raccoon_{top}_{left}.webp")


def _only(folder: Path, name: str) -> Path:
    found = sorted(folder.rglob(name))
    if not found:
        raise SystemExit(f"{folder}: no {name}; unpack the packages named at the top of this script there")
    return found[0]


def _keep(picture: Image.Image, top: int, left: int, to: Path) -> None:
    side = (min(left + SIDE_PX, picture.width), min(top + SIDE_PX, picture.height))
    picture.crop((left, top, *side)).save(to, quality=92, method=6)


if __name__ == "__main__":
    main()
