"""Take the pictures that README shows, of the page that `make audit` writes: `make pictures`."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

from few_colours import few_colours
from PIL import Image
from playwright.sync_api import sync_playwright

HERE = Path(__file__).parent
COLOURS = 256
REPORT = HERE.parents[1] / "build" / "report" / "report.html"
# Name, colour scheme, width and height of the window, and what the picture begins with.
PICTURES = (
    ("report.png", "light", 1440, 900, "body"),
    ("report-pictures.png", "dark", 1000, 1180, "#pictures"),
    ("report-flagged.png", "light", 1000, 700, "#flagged"),
)


def main() -> None:
    """Overwrite the pictures."""
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        for name, scheme, width, height, start in PICTURES:
            page = browser.new_context(
                offline=True, color_scheme=scheme, viewport={"width": width, "height": height}
            ).new_page()
            page.goto(REPORT.as_uri())
            page.locator(start).evaluate(
                "at => window.scrollTo(0, at.getBoundingClientRect().top + scrollY - 20)"
            )
            picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
            few_colours(picture, COLOURS).save(HERE / name, optimize=True)
            print(HERE / name)
        browser.close()


if __name__ == "__main__":
    main()
