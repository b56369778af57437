"""Take the pictures of the desk that README and docs/desk.md show, on the logbook that `make audit` fills."""

from __future__ import annotations

import shutil
import threading
import time
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import sync_playwright

from auditor.desk.desk import Desk
from auditor.desk.serving import serve

HERE = Path(__file__).parent
LOGBOOK = HERE.parents[1] / "build" / "logbook.sqlite"
WINDOW = {"width": 1024, "height": 700}


def main() -> None:
    """Overwrite the pictures."""
    desk = Desk(LOGBOOK)
    addresses: list[str] = []
    threading.Thread(target=lambda: serve(desk, opened=addresses.append), daemon=True).start()
    while not addresses:
        time.sleep(0.05)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_context(color_scheme="light", viewport=WINDOW).new_page()
        page.goto(addresses[0])
        place = f"http://{urlsplit(addresses[0]).netloc}"
        page.locator("a", has_text="Choose keepers").first.click()
        page.locator(".encounters a").nth(6).click()
        page.wait_for_timeout(3000)  # until the squares in sight have their colour
        page.screenshot(path=HERE / "desk-choose.png")
        settle = page.get_by_role("link", name="Settle").get_attribute("href")
        page.goto(f"{place}{settle}")
        chart = page.locator("form.light", has_text="S2").first
        for burst in (1, 2, 3):
            chart.locator("input[name=burst]").nth(burst).check()
        chart.get_by_label("1.4x was on").check()
        chart.evaluate("at => window.scrollTo(0, at.getBoundingClientRect().top + scrollY - 120)")
        page.wait_for_timeout(500)
        page.screenshot(path=HERE / "desk-settle.png")
        browser.close()
    desk.close_asked = True


if __name__ == "__main__":
    main()
