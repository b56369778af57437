"""What several folders of tests need and is slow to make, and how much of the long tests is run."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import psutil
import pytest

# As the program does: on small matrices a second thread only waits, and takes a processor for it.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from tests.windows import Windows

# As root in a container there is no sandbox; the rest keeps the browser from looking for its maker's hosts.
CHROMIUM_ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
ROOT = Path(__file__).parents[1]
SAMPLE = ROOT / "sample_images"
SLOWEST = (
    "browser/test_report_page.py", "faults/test_lost_workers.py", "desk/test_desk_in_browser.py",
    "keepers/test_killed_runs.py", "browser/test_touch_and_keys.py", "faults/test_stopping.py",
    "cli/test_commands.py", "faults/test_killed_at_random.py", "statistics/test_resolved.py",
    "analysis/test_comparisons.py", "store/test_sums.py", "desk/test_evening.py", "browser/test_size.py",
    "statistics/test_telling.py", "faults/test_places_and_clocks.py", "cli/test_light_imports.py",
    "analysis/test_whole_record.py", "properties/test_any_picture.py", "properties/test_hostile_bytes.py",
    "focus/test_subject.py", "faults/test_copies.py", "faults/test_views.py", "cli/test_trips_and_places.py",
)  # fmt: skip
"""Files that take over 5 s, in the order of what they take (27 November)."""
IN_MEMORY = Path("/dev/shm")
GIB = 1024**3


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--whole", action="store_true", help="every case of the long tests, not a share of them")


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are cores: tests that wait for a program or a page leave theirs idle."""
    return (os.cpu_count() or 1) + 1


def pytest_configure(config: pytest.Config) -> None:
    # A suite that a shell started in the background is deaf to Ctrl-C, and so would be the programs it stops.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    if config.getoption("--whole"):
        os.environ["AUDITOR_LONG_TESTS"] = "1"
    _keep_temporary_files_in_memory()


def _keep_temporary_files_in_memory() -> None:
    """On a disk the suite waits a third of its time, for each commit of a logbook and each deletion."""
    if "TMPDIR" in os.environ or not os.access(IN_MEMORY, os.W_OK):
        return
    if shutil.disk_usage(IN_MEMORY).free > GIB and psutil.virtual_memory().available > 4 * GIB:
        os.environ["TMPDIR"] = str(IN_MEMORY)
        tempfile.tempdir = None  # it is found out anew


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The slowest files go first: at the end no process is left alone with one of them."""
    place = {ROOT / "tests" / name: number for number, name in enumerate(SLOWEST)}
    assert all(path.is_file() for path in place), "a file of SLOWEST has another name now"
    items.sort(key=lambda item: place.get(item.path, len(place)))


@pytest.fixture(scope="session")
def measured_sample(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Path], Path]:
    """A function that puts a logbook of the sample trip, with its crops, into a folder of the test's own."""
    from auditor.derive.rebuild import rebuild
    from auditor.jobs.measure import measure
    from auditor.jobs.scan import scan
    from auditor.settings import Settings
    from auditor.store.logbook import open_logbook

    made = tmp_path_factory.mktemp("measured")
    (outcome,) = scan(made / "logbook.sqlite", [SAMPLE], Settings())
    assert outcome.unreadable == []
    with open_logbook(made / "logbook.sqlite") as book:
        measure(book)
        rebuild(book, Settings())

    def copied(folder: Path) -> Path:
        shutil.copytree(made, folder, dirs_exist_ok=True)
        return folder / "logbook.sqlite"

    return copied


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Callable[[int], Path]]:
    """A function that makes a disk of so many KiB, where the system lets us make one."""
    places: list[Path] = []

    def made(size_kib: int) -> Path:
        place = tmp_path / f"disk{len(places)}"
        place.mkdir()
        if not sys.platform.startswith("linux") or shutil.which("mount") is None:
            pytest.skip("no disk in memory here")
        mount = ["mount", "-t", "tmpfs", "-o", f"size={size_kib}k", "tmpfs", str(place)]
        if subprocess.run(mount, capture_output=True, check=False).returncode:
            pytest.skip("no right to mount a disk")
        places.append(place)
        return place

    yield made
    for place in places:
        subprocess.run(["umount", str(place)], check=True)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    chromium = os.environ.get("AUDITOR_CHROMIUM") or shutil.which("chromium")
    if chromium is None:
        pytest.skip("no Chromium was found")
    with playwright.sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=chromium, args=CHROMIUM_ARGUMENTS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def windows(browser: Browser) -> Windows:
    from tests.windows import Windows

    return Windows(browser)


@pytest.fixture(scope="session")
def axe() -> str:
    """The script of axe-core."""
    path = Path(os.environ.get("AUDITOR_AXE", ROOT / "build/browser/node_modules/axe-core/axe.min.js"))
    if not path.is_file():
        pytest.skip("axe-core was not installed: .ci/run does")
    return path.read_text(encoding="utf-8")
