"""First screens of the report for trips of six kinds, on a laptop and on a phone: `make pictures` takes them.

    python docs/images/first_screens.py

Trips are simulated with fixed seeds, so the page says the same each time; the first is the sample with eight
earlier trips, which has pictures; of the others the two frames of the pair are drawn, where there is one.
Read each as a stranger: which kit to mount, what it cost, how sure.
"""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

HERE = Path(__file__).parent
PROJECT = HERE.parents[1]
sys.path.insert(0, str(PROJECT))

from few_colours import few_colours  # noqa: E402

from auditor.demo.picture import PictureSpec, render  # noqa: E402
from auditor.demo.record import LOGBOOK, write_record  # noqa: E402
from auditor.jobs.measure import measure  # noqa: E402
from auditor.jobs.scan import scan  # noqa: E402
from auditor.readers.colour_cuts import AREA_PX, AREA_QUALITY, as_jpeg  # noqa: E402
from auditor.report.write import write_report  # noqa: E402
from auditor.settings import Settings  # noqa: E402
from auditor.store.crops import colour_path, keep  # noqa: E402
from auditor.store.logbook import open_logbook  # noqa: E402
from auditor.store.pairs import pairs_of_trip  # noqa: E402
from auditor.store.trips import find_trip  # noqa: E402
from benchmarks.simulated_logbook import KITS, Kit, Trip, write  # noqa: E402

SCREENS = (("laptop", 1440, 900, 1.0), ("phone", 390, 844, 2.0))
ANIMAL_URAD, SPOT_URAD = 3600.0, 9.0
"""How large the drawn animal is as an angle, and the blur of lens and air."""
COLOURS = 96
"""Of the palette that the pictures are kept in: text and flat colours need few."""
BARE, WITH_14X, WITH_2X = (replace(kit, fall_logit=0.0, gain=0.0) for kit in KITS[:3])
LONG_BODIES = (("Saltmark Field F2 Mark III", 1.0, 6.0), ("Saltmark Shore S2 Mark IV", 1.5, 3.9))
LONG_LENSES = (("Saltmark 180-600mm", 600.0, 5.6), ("Saltmark 100-500mm", 500.0, 4.5))
LONG_NAMES = tuple(
    Kit(
        body=body,
        lens=f"{lens} f/{widest:g}-6.3 Estuary VR Mark II",
        factor=factor,
        focal_length_mm=focal_mm * factor,
        widest=widest,
        crop=crop,
        pitch_um=pitch_um,
        fall_logit=0.5 * (factor - 1) * place,
        gain=0.1 * (factor - 1),
    )
    for place, (body, crop, pitch_um) in enumerate(LONG_BODIES, 1)
    for lens, focal_mm, widest in LONG_LENSES
    for factor in (1.0, 1.4, 2.0)
)
TRIPS = {
    "gain": Trip(400, kits=(BARE, replace(WITH_14X, gain=0.2)), confounded=0.1, seed=4),
    "no-evidence": Trip(7, kits=(BARE, WITH_14X, WITH_2X), seed=2),
    "mixed": Trip(400, seed=3),
    "one-kit": Trip(30, kits=(BARE,), seed=5),
    "twelve-kits": Trip(700, kits=LONG_NAMES, seed=6),
}


def main() -> None:
    """Overwrite the pictures."""
    with tempfile.TemporaryDirectory(prefix="first-screens-") as place, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        for name, page in pages(Path(place)):
            for screen, width, height, pixels in SCREENS:
                path = HERE / f"first-screen-{name}-{screen}.png"
                take(browser, page, path, width, height, pixels)
                print(f"{path} {path.stat().st_size / 1000:.0f} kB")
        browser.close()


def pages(folder: Path) -> Iterator[tuple[str, Path]]:
    """Name and page of each trip."""
    write_record(folder / "loss", 8)
    logbook = folder / "loss" / LOGBOOK
    scan(logbook, [PROJECT / "sample_images"], Settings())
    with open_logbook(logbook) as book:
        measure(book, Settings())
    yield "loss", page_of(logbook)
    for name, trip in TRIPS.items():
        logbook = folder / f"{name}.sqlite"
        write(logbook, trip)
        draw_pair(logbook)
        yield name, page_of(logbook)


def draw_pair(path: Path) -> None:
    """Draw the focus areas of the pair that the newest trip shows, each as its kit sees it."""
    with open_logbook(path) as book:
        with book.writing():
            book.execute(
                """UPDATE readings SET region = '{"x": 0.5, "y": 0.5, "width": 0.1, "height": 0.1}'"""
            )
        newest = find_trip(book, None)
        for pair in pairs_of_trip(book, newest.trip_id, most=1):
            for frame in (pair.converted, pair.bare):
                spec = PictureSpec(
                    width_px=AREA_PX, height_px=AREA_PX, subject=(*pair.keywords, "heron")[0],
                    subject_size_px=ANIMAL_URAD / frame.pixel_urad, centre_x=0.5, centre_y=0.5, kind="sharp",
                    blur_sigma_px=0.0, direction_deg=None, lens_sigma_px=SPOT_URAD / frame.pixel_urad,
                    iso=frame.iso or 400.0, base_electrons=60_000.0, read_noise_e=2.5, seed=frame.frame_id,
                    scene_seed=newest.trip_id,
                )  # fmt: skip
                jpeg = as_jpeg(render(spec), AREA_QUALITY)
                keep(colour_path(path, frame.frame_id, "area"), jpeg)


def page_of(logbook: Path) -> Path:
    """The report of the newest trip of a logbook."""
    with open_logbook(logbook) as book:
        return write_report(book, logbook.with_suffix(""), trip=find_trip(book, None), formats=["html"])


def take(browser: Browser, page: Path, path: Path, width: int, height: int, pixels: float) -> None:
    """One picture of what a screen shows first."""
    context = browser.new_context(
        offline=True, viewport={"width": width, "height": height}, device_scale_factor=pixels
    )
    tab = context.new_page()
    tab.goto(page.as_uri())
    picture = Image.open(io.BytesIO(tab.screenshot())).convert("RGB")
    context.close()
    few_colours(picture, COLOURS).save(path, optimize=True)


if __name__ == "__main__":
    main()
