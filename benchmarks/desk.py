"""The pages of the desk on a large logbook: seconds until they are answered and painted, and their size.

python benchmarks/desk.py [--frames 100000] [--trips 60]
python benchmarks/desk.py --logbook FILE

The second asks for the pages of a logbook that is there: million_frames.py keeps one with --keep.
Painting is measured where Playwright and a Chromium are installed.
"""

from __future__ import annotations

import argparse
import http.client
import os
import platform
import re
import shutil
import sqlite3
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path
from urllib.parse import urlsplit

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.desk.desk import Desk  # noqa: E402
from auditor.desk.serving import serve  # noqa: E402
from auditor.jobs.opening import up_to_date  # noqa: E402
from auditor.store.crops import crop_path  # noqa: E402
from auditor.store.logbook import open_logbook  # noqa: E402
from benchmarks.plan import _give_sensors  # noqa: E402
from benchmarks.report import make_logbook  # noqa: E402

TIMES = 3
BURST = 40
ROWS, COLUMNS = 4000, 6000


class Browser:
    """Asks a desk as its browser does."""

    def __init__(self, address: str) -> None:
        self.host = urlsplit(address).netloc
        self.cookie = ""
        _status, headers, _body = self.get(f"/?{urlsplit(address).query}")
        self.cookie = headers["set-cookie"].partition(";")[0]

    def get(self, path: str) -> tuple[int, dict[str, str], bytes]:
        connection = http.client.HTTPConnection(self.host, timeout=300)
        connection.request("GET", path, headers={"Cookie": self.cookie})
        answer = connection.getresponse()
        told = answer.status, dict(answer.getheaders()), answer.read()
        connection.close()
        return told

    def timed(self, name: str, path: str, times: int = TIMES) -> bytes:
        """The page, and on the screen how long it took: the middle of some tries, and the first."""
        seconds, body, cpu_s = [], b"", []
        for _time in range(times):
            began, cpu = time.perf_counter(), time.process_time()
            status, _headers, body = self.get(path)
            seconds.append(time.perf_counter() - began)
            cpu_s.append(time.process_time() - cpu)
            # These invented kits have no lens to plan with; benchmarks/plan.py measures that.
            if status == 409:
                print(f"{name:34} answers {status}: nothing to measure")
                return body
            assert status == 200, (path, status, body[:200])
        middle = statistics.median(seconds)
        print(
            f"{name:34} {middle:6.2f} s (first {seconds[0]:.2f}; of a processor {cpu_s[0]:.2f}, least "
            f"{min(cpu_s):.2f}) {len(body) / 1e3:8.0f} kB"
        )
        return body


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--frames", type=int, default=100_000)
    arguments.add_argument("--trips", type=int, default=60)
    arguments.add_argument("--logbook", type=Path)
    chosen = arguments.parse_args()
    print(f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, {os.cpu_count()} cores")
    if chosen.logbook is not None:
        with open_logbook(chosen.logbook) as book:
            encounter_id = book.query("SELECT max(encounter_id) FROM encounters")[0][0]
        desk, address = _desk(chosen.logbook)
        _painted(address, _pages(Browser(address), encounter_id))
        desk.close_asked = True
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "logbook.sqlite"
        make_logbook(path, frames=chosen.frames, trips=chosen.trips, pictures=False)
        with up_to_date(path):  # as a logbook is that was scanned
            pass
        _give_sensors(path)
        encounter_id, frame_id = _large_burst(path, Path(folder))
        print(f"{chosen.frames} frames, {chosen.trips} trips")
        desk, address = _desk(path)
        browser = Browser(address)
        places = _pages(browser, encounter_id)
        began = time.perf_counter()
        for picture in range(BURST):
            browser.get(f"/frames/{frame_id + picture}/area.jpg")
        print(f"{BURST} kept pictures, one after another: {time.perf_counter() - began:.2f} s")
        browser.timed(
            "100 % view, 24 MP, from the file", f"/frames/{frame_id}/place.jpg?width=1000&height=800", 1
        )
        browser.timed(
            "another place of the same frame", f"/frames/{frame_id}/place.jpg?x=.2&width=1000&height=800"
        )
        browser.timed("the whole frame", f"/frames/{frame_id}/whole.jpg?width=1000")
        _painted(address, places)
        desk.close_asked = True


def _desk(path: Path) -> tuple[Desk, str]:
    """A desk that answers, and where."""
    desk = Desk(path)
    addresses: list[str] = []
    threading.Thread(target=lambda: serve(desk, opened=addresses.append), daemon=True).start()
    while not addresses:
        time.sleep(0.05)
    return desk, addresses[0]


def _pages(browser: Browser, encounter_id: int) -> dict[str, str]:
    places = {"trips": "/"}
    shown = browser.timed("trips", "/").decode()
    trip = re.findall(r"/trips/(\d+)/encounters", shown)[0]
    places |= {
        "encounters of a trip": f"/trips/{trip}/encounters",
        "an encounter": f"/encounters/{encounter_id}",
        "settle": f"/trips/{trip}/settle",
        "hand over": f"/trips/{trip}/hand-over",
        "what to mount": "/mount",
        "the answer, asked for": f"/trips/{trip}",
    }
    browser.timed("the line of a trip", f"/trips/{trip}/answer", 1)
    for other_trip in sorted(set(re.findall(r"/trips/(\d+)/encounters", shown)), key=int)[-4:-1]:
        browser.timed("the line of another trip", f"/trips/{other_trip}/answer", 1)
    for name, place in list(places.items())[1:]:
        browser.timed(name, place)
    began = time.perf_counter()
    browser.get(f"/trips/{trip}/written")
    print(f"the answer was worked out in {time.perf_counter() - began:.2f} s")
    browser.timed("the answer, kept", f"/trips/{trip}")
    return places


def _large_burst(path: Path, folder: Path) -> tuple[int, int]:
    """Give an encounter a burst of 24 megapixels a frame, with kept pictures: its id, the first frame's."""
    import numpy as np
    import simplejpeg

    noise = np.random.default_rng(1).integers(0, 255, (ROWS // 4, COLUMNS // 4, 3), np.uint8)
    picture = np.ascontiguousarray(noise.repeat(4, 0).repeat(4, 1))
    (folder / "frame.jpg").write_bytes(simplejpeg.encode_jpeg(picture, quality=90))
    area = simplejpeg.encode_jpeg(np.ascontiguousarray(picture[:240, :240, :1]), 85, "GRAY")
    with open_logbook(path) as book:
        trip_id = book.query("SELECT trip_id FROM trips ORDER BY first_at DESC LIMIT 1")[0][0]
        sql = "SELECT * FROM membership WHERE trip_id = ? ORDER BY frame_id LIMIT ?"
        rows = book.query(sql, (trip_id, BURST))
        first = rows[0]
        with book.writing():
            for row in rows:
                book.execute(
                    "UPDATE membership SET encounter_id = ?, burst_id = ? WHERE frame_id = ?",
                    (first["encounter_id"], first["burst_id"], row["frame_id"]),
                )
                book.execute(
                    "UPDATE files SET path = ? WHERE frame_id = ?",
                    (f"{folder}/{row['frame_id']}.jpg", row["frame_id"]),
                )
        for row in rows:
            crop_path(path, row["frame_id"]).parent.mkdir(parents=True, exist_ok=True)
            crop_path(path, row["frame_id"]).write_bytes(area)
        shutil.copy(folder / "frame.jpg", folder / f"{first['frame_id']}.jpg")
        return first["encounter_id"], first["frame_id"]


def _painted(address: str, places: dict[str, str]) -> None:
    """Seconds from asking to the first paint (W3C, Paint Timing), in Chromium."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        print("painting was not measured: Playwright is not installed")
        return
    chromium = os.environ.get("AUDITOR_CHROMIUM") or shutil.which("chromium")
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        page = started.new_page(viewport={"width": 1024, "height": 768})
        page.goto(address)
        for name, place in places.items():
            page.goto(f"http://{urlsplit(address).netloc}{place}")
            page.wait_for_timeout(500)
            paints = page.evaluate("performance.getEntriesByType('paint').map((entry) => entry.startTime)")
            print(f"{name:34} painted after {min(paints) / 1e3:.2f} s")
        started.close()


if __name__ == "__main__":
    main()
