"""The evening after the trip in a real browser: by pointer, by keyboard alone, on a tablet, in the dark."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from auditor.store.choices import choices_of
from auditor.store.logbook import open_logbook
from tests.desk.conftest import Running, StartDesk

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from tests.windows import Windows

SAMPLE = Path(__file__).parents[2] / "sample_images"
LAPTOP = {"viewport": {"width": 1024, "height": 768}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True}
TABLET = {"viewport": {"width": 820, "height": 1180}, "has_touch": True}
Enter = Callable[..., "Page"]


@pytest.fixture
def enter(windows: Windows) -> Iterator[Enter]:
    """Opens a desk by its address; what it complains of on the console fails the test at its end."""

    def opened(running: Running, **options: Any) -> Page:
        page = windows.lend(**{**LAPTOP, **options})
        page.goto(running.address)
        return page

    yield opened
    complaints = [each for each in windows.take_back() if not each.startswith("request: ")]
    assert [each for each in complaints if "ERR_CONNECTION_REFUSED" not in each] == []


def chosen(running: Running) -> dict[int, str]:
    with open_logbook(running.logbook) as book:
        every = [row[0] for row in book.query("SELECT frame_id FROM frames")]
        return {frame_id: str(choice) for frame_id, choice in choices_of(book, every).items()}


def test_the_whole_evening(enter: Enter, start_desk: StartDesk, tmp_path: Path) -> None:
    """Read a card, settle a hint, choose, hand over, take back, close."""
    card = tmp_path / "card"
    shutil.copytree(SAMPLE / "DCIM", card / "DCIM")
    with open_logbook(tmp_path / "book" / "logbook.sqlite", create=True):
        pass
    running = start_desk(tmp_path / "book" / "logbook.sqlite")
    page = enter(running)
    page.locator("#folder").fill(str(card))
    page.get_by_role("button", name="Read it").click()
    page.get_by_text("88 frames measured").wait_for(timeout=120_000)
    page.get_by_role("link", name="Settle what no file says").click()
    page.get_by_role("radio", name="No, do not ask again").first.check()
    page.get_by_role("button", name="Answer these").click()
    page.get_by_role("button", name="Take it back", exact=True).wait_for()
    page.get_by_role("link", name="Choose").click()
    page.locator(".encounters a").first.click()
    for _encounter in range(10):
        page.locator("[data-frame]").first.wait_for()
        page.wait_for_load_state("load")
        for suggestion in page.get_by_role("button", name="Keep the sharpest of this burst").all():
            suggestion.click()
        page.get_by_role("button", name="Leave").last.click()
        page.locator("li[data-choice=leave]").first.wait_for()
        page.get_by_role("link", name="Next", exact=True).click()
    kept = [frame_id for frame_id, choice in chosen(running).items() if choice == "keep"]
    assert len(kept) >= 8
    assert len(chosen(running)) >= len(kept) + 10
    page.get_by_role("link", name="Hand over").click()
    page.get_by_label(f"The {len(kept)} frames you chose to keep").check()
    page.get_by_label("Folder", exact=True).fill(str(tmp_path / "keepers"))
    page.get_by_role("button", name="Show the plan").click()
    page.get_by_text(f"{len(kept)} frames:").wait_for()
    assert not (tmp_path / "keepers").exists()
    page.get_by_role("button", name="Hand over").click()
    page.get_by_text("copied and verified").wait_for(timeout=60_000)
    assert len(list((tmp_path / "keepers").iterdir())) >= len(kept)
    page.get_by_role("button", name="Take it back").click()
    page.get_by_text("1 empty folder removed").wait_for()
    assert not (tmp_path / "keepers").exists()
    page.get_by_role("button", name="Close the desk").click()
    page.get_by_text("The desk has ended").wait_for()
    running.thread.join(20)
    assert not running.thread.is_alive()


def test_by_keyboard_alone(enter: Enter, running: Running) -> None:
    page = enter(running)
    page.goto(f"http://{page.url.split('/')[2]}/trips/1/encounters")
    page.locator(".encounters a").first.focus()
    page.keyboard.press("Enter")
    page.locator("[data-frame]").first.wait_for()
    page.wait_for_load_state("load")  # its modules listen from then on
    frames = [int(each.get_attribute("data-frame") or 0) for each in page.locator("[data-frame]").all()]

    def after(key: str, expected: dict[int, str]) -> None:
        with page.expect_response(lambda answer: "/choice" in answer.url):
            page.keyboard.press(key)
        assert chosen(running) == expected

    page.keyboard.press("ArrowRight")
    after("k", {frames[0]: "keep"})
    page.keyboard.press("ArrowRight")
    after("l", {frames[0]: "keep", frames[1]: "leave"})
    after("u", {frames[0]: "keep"})
    page.keyboard.press("ArrowLeft")
    after("k", {})
    sharpest = int(page.locator("[data-sharpest]").first.get_attribute("data-frame") or 0)
    after("s", {sharpest: "keep"})
    page.keyboard.press("b")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("b")
    views = page.locator("dialog .view img")
    views.nth(1).wait_for()
    assert views.count() == 2
    page.keyboard.press("w")
    page.locator("dialog .view.whole img").nth(1).wait_for()
    page.keyboard.press("Escape")
    assert not page.locator("dialog").is_visible()
    page.keyboard.press("n")
    page.wait_for_url(lambda url: url.endswith("/encounters/" + url.rsplit("/", 1)[1]))
    page.locator("#previous").wait_for()


def test_two_frames_side_by_side_move_together(enter: Enter, running: Running) -> None:
    page = enter(running)
    page.goto(f"http://{page.url.split('/')[2]}/trips/1/encounters")
    page.locator(".encounters a").first.click()
    page.locator("[data-frame]").first.wait_for()
    page.wait_for_load_state("load")
    for number in (0, 1):
        page.get_by_role("button", name="Beside").nth(number).click()
    views = page.locator("dialog .view")
    page.locator("dialog .view img").nth(1).wait_for()
    box = views.first.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 100, box["y"] + 100)
    page.mouse.down()
    page.mouse.move(box["x"] + 60, box["y"] + 90)
    moved = [view.locator("img").evaluate("image => image.style.transform") for view in views.all()]
    assert moved[0] == moved[1] == "translate(-40px, -10px)"
    page.mouse.up()


def test_a_converter_marked_on_the_chart_redraws_it_before_anything_is_kept(
    enter: Enter, running: Running
) -> None:
    page = enter(running)
    page.goto(f"http://{page.url.split('/')[2]}/trips/1/settle")
    form = page.locator("form.light").first
    points = form.locator("[data-point] .now")
    before = [float(point.get_attribute("cy") or 0) for point in points.all()]
    form.locator("input[name=burst]").nth(0).check()
    form.locator("input[name=burst]").nth(2).check()
    form.get_by_role("button", name="Mark all between").click()
    form.get_by_label("2x was on").check()
    after = [float(point.get_attribute("cy") or 0) for point in points.all()]
    stop = float(form.get_attribute("data-stop") or 0)
    assert [round((was - now) / stop) for was, now in zip(before, after, strict=True)][:4] == [2, 2, 2, 0]
    with open_logbook(running.logbook) as book:
        assert book.query("SELECT count(*) FROM declarations")[0][0] == 0


def test_going_back_marks_no_other_burst(enter: Enter, running: Running) -> None:
    """The browser would tick again what stands in the place of a burst that was left out."""
    page = enter(running)
    page.goto(f"http://{page.url.split('/')[2]}/trips/1/settle")
    form = page.locator("form.light").first
    form.locator("input[name=burst]").nth(1).check()
    form.get_by_label("test shots: leave out").check()
    form.get_by_role("button", name="Keep this").click()
    page.get_by_text("Left out: ").first.wait_for()
    page.go_back()
    page.locator("form.light").first.wait_for()
    assert page.locator("input[name=burst]:checked").count() == 0


def test_after_the_server_was_killed_the_page_says_so_and_nothing_chosen_is_lost(
    enter: Enter, running: Running, start_desk: StartDesk
) -> None:
    page = enter(running)
    page.goto(f"http://{page.url.split('/')[2]}/trips/1/encounters")
    page.locator(".encounters a").first.click()
    page.locator("[data-frame]").first.wait_for()
    page.wait_for_load_state("load")
    with page.expect_response(lambda answer: "/choice" in answer.url):
        page.get_by_role("button", name="Keep", exact=True).first.click()
    before = chosen(running)
    page.wait_for_load_state("networkidle")  # what the page still asks for would be answered by an error
    running.close()
    page.get_by_role("button", name="Keep", exact=True).nth(1).click()
    page.get_by_text("The desk does not answer. Start it again").wait_for()
    assert page.locator("[data-choice=keep]").count() == 1
    assert chosen(running) == before != {}
    again = enter(start_desk(running.logbook))
    assert "kept 1, left 0" in again.locator("main").inner_text()


@pytest.mark.parametrize(
    "options",
    [LAPTOP, {**LAPTOP, "color_scheme": "dark"}, TABLET, PHONE],
    ids=["laptop", "dark", "tablet", "phone"],
)
def test_accessibility_by_axe(
    enter: Enter, running: Running, axe: str, tmp_path: Path, options: dict[str, Any]
) -> None:
    """axe-core, all of its rules: nothing serious or critical; and no page wider than its screen."""
    page = enter(running, **options)

    def check(path: str | None) -> None:
        found = page.evaluate(axe + "\naxe.run(document, { resultTypes: ['violations'] })")
        serious = [each["id"] for each in found["violations"] if each["impact"] in ("serious", "critical")]
        assert serious == [], path
        wide = page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
        assert not wide, path

    place = f"http://{page.url.split('/')[2]}"
    page.goto(f"{place}/trips/1/encounters")
    encounter = page.locator(".encounters a").first.get_attribute("href")
    for path in ("/", "/trips/1/encounters", encounter, "/trips/1/settle", "/trips/1/hand-over", "/mount"):
        page.goto(f"{place}{path}")
        check(path)
    page.goto(f"{place}/trips/1/settle")
    page.locator("[name=name]").fill("Estuary " * 20)
    page.get_by_role("button", name="Name it").click()
    page.locator("[data-said]").scroll_into_view_if_needed()
    page.get_by_text("changes 88 frames").wait_for()
    check("what was said")
    for burst in page.locator("form.light").first.locator("input[name=burst]").all():
        burst.check()
    page.locator("form.light").first.get_by_label("test shots: leave out").check()
    page.locator("form.light").first.get_by_role("button", name="Keep this").click()
    page.get_by_text("Left out: ").first.wait_for()
    check("what was left out")
    page.goto(f"{place}/trips/1/hand-over")
    page.get_by_label("Folder", exact=True).fill(str(tmp_path / ("a-long-name-of-a-folder-" * 4) / "keepers"))
    page.get_by_role("button", name="Show the plan").click()
    page.get_by_role("heading", name="What would be made").wait_for()
    check("the plan")
