"""Every control of the report, by a finger on a phone and by keys alone; no tap filters without saying so."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.browser.conftest import OpenPage

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

PHONE = {"viewport": {"width": 390, "height": 844}}
CONTROLS = {
    "a.skip", "nav a", "a[href='#mixed']",  # ways inside the page
    "th button[data-kit]", ".legend button[data-kit]", ".told .choose", "#chosen button",  # a kit
    "details.more > summary", ".chooser > summary", ".fold > summary", ".workings > summary",  # folds
    ".wall summary", "[data-more]", "[data-reset]", ".filters select",  # walls and filters
    "#print-lists", "[data-fill]", "th[data-sort] button",  # lists
}  # fmt: skip
"""What each of these does is tested below; a new kind of control wants a test of its own."""
LEAST_PX = 24


@pytest.fixture(params=["touch", "keys"])
def touch(request: pytest.FixtureRequest) -> bool:
    return bool(request.param == "touch")


@pytest.fixture
def phone(opened: OpenPage, report: Path, touch: bool) -> Page:
    """The report on a phone, or in a window as narrow without touch."""
    return opened(report, **PHONE, has_touch=touch, is_mobile=touch)


def press(control: Locator, touch: bool, key: str = "Enter") -> None:
    """Tap it, or give it the focus and press a key."""
    if touch:
        control.scroll_into_view_if_needed()
        control.tap()
    else:
        control.focus()
        control.press(key)


def listed(page: Page) -> int:
    """Rows of the table of all frames that can be seen."""
    return page.locator("section[aria-labelledby=frames] tbody tr:visible").count()


def fill(page: Page, touch: bool) -> int:
    press(page.locator("[data-fill]"), touch)
    return listed(page)


def test_no_control_is_without_a_test(phone: Page, touch: bool) -> None:
    fill(phone, touch)
    unknown = phone.evaluate(
        """(known) => Array.from(document.querySelectorAll("a[href], button, select, summary, input"))
          .filter((one) => !one.matches(known)).map((one) => one.outerHTML.slice(0, 120))""",
        ", ".join(sorted(CONTROLS)),
    )
    assert unknown == []
    for selector in CONTROLS:
        assert phone.locator(selector).count() > 0, selector


def test_a_finger_hits_every_control(opened: OpenPage, report: Path) -> None:
    """WCAG 2.2, 2.5.8 (S): 24 by 24 CSS pixels; links inside a sentence are excepted there."""
    page = opened(report, **PHONE, has_touch=True, is_mobile=True)
    fill(page, touch=True)
    for summary in page.locator(".chooser > summary").all():
        summary.tap()
    controls = page.locator("button:visible, select:visible, summary:visible, label:has(input):visible")
    small = controls.evaluate_all(
        """(all, least) => all.map((one) => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
          .filter(([, box]) => Math.min(box.width, box.height) < least).map(([html]) => html)""",
        LEAST_PX,
    )
    assert controls.count() > 40
    assert small == []


@pytest.mark.parametrize("fold", ["details.more", ".chooser", "details.fold.method", ".workings"])
def test_folds_open_and_close(phone: Page, touch: bool, fold: str) -> None:
    details = phone.locator(fold).first
    for opened in (True, False):
        press(details.locator("> summary"), touch)
        assert details.evaluate("one => one.open") is opened


@pytest.mark.parametrize("name", ["flagged", "best"])
def test_walls_show_more_and_open_a_frame(phone: Page, touch: bool, name: str) -> None:
    tiles = phone.locator(f"section[aria-labelledby={name}] [data-frame]:visible")
    assert tiles.count() == 12
    press(phone.locator(f"section[aria-labelledby={name}] [data-more]"), touch)
    assert tiles.count() > 12
    press(tiles.nth(12).locator("summary"), touch)
    assert tiles.nth(12).locator(".file").is_visible()


@pytest.mark.parametrize("place", ["th", ".legend"])
def test_a_kit_is_chosen_by_its_name_and_the_page_says_so(phone: Page, touch: bool, place: str) -> None:
    in_all = fill(phone, touch)
    press(phone.locator(f"{place} button[data-kit]").first, touch)
    assert 0 < listed(phone) < in_all
    assert "its frames alone listed" in phone.locator("#chosen").inner_text()
    assert phone.locator("#chosen").get_attribute("role") == "status"
    press(phone.locator("#chosen button"), touch)
    assert listed(phone) == in_all


def test_filters_of_the_table_and_their_one_reset(phone: Page, touch: bool) -> None:
    in_all = fill(phone, touch)
    table = phone.locator("section[aria-labelledby=frames] [data-list]")
    select = table.locator("select[name=verdict]")
    if touch:  # the system's own list opens, which no test can touch
        select.tap()
        select.select_option("miss")
    else:
        select.focus()
        phone.keyboard.press("m")  # the option that begins so
    assert select.input_value() == "miss"
    assert 0 < listed(phone) < in_all
    assert f"of {in_all} shown" in table.locator("[data-count]").inner_text()
    press(table.locator("[data-reset]"), touch)
    assert listed(phone) == in_all


def test_a_wall_is_filtered_and_sorted(phone: Page, touch: bool) -> None:
    wall = phone.locator("section[aria-labelledby=flagged]")
    press(wall.locator(".chooser > summary"), touch)
    order = wall.locator("select[name=order]")
    before = wall.locator("[data-frame]").first.get_attribute("data-at")
    if touch:
        order.tap()
        order.select_option("at rising")
    else:
        order.focus()
        phone.keyboard.press("ArrowDown")
    assert order.input_value() == "at rising"
    times = wall.locator("[data-frame]").evaluate_all("all => all.map(one => one.dataset.at)")
    assert times == sorted(times)
    assert times[0] != before


def test_a_column_sorts(phone: Page, touch: bool) -> None:
    fill(phone, touch)
    head = phone.locator("th[data-sort]").filter(has_text="ISO")
    for way in ("ascending", "descending"):
        press(head.locator("button"), touch)
        assert head.get_attribute("aria-sort") == way


def test_the_print_box(phone: Page, touch: bool) -> None:
    box = phone.locator("#print-lists")
    for ticked in (True, False):
        press(phone.locator("label:has(#print-lists)") if touch else box, touch, "Space")
        assert box.is_checked() is ticked


@pytest.mark.parametrize("way", ["nav a[href='#method']", "a[href='#mixed']"])
def test_ways_inside_the_page(phone: Page, touch: bool, way: str) -> None:
    target = phone.locator(str(phone.locator(way).first.get_attribute("href")))
    press(phone.locator(way).first, touch)
    phone.wait_for_timeout(50)
    assert target.evaluate(
        "one => { const { top } = one.getBoundingClientRect(); return -1 <= top && top < innerHeight; }"
    )


def test_every_picture_tells_its_numbers_and_a_mark_alone_chooses_nothing(phone: Page, touch: bool) -> None:
    in_all = fill(phone, touch)
    press(phone.locator("details.more > summary"), touch)
    figures = phone.locator("figure").all()
    assert len(figures) >= 6
    for figure in figures:
        marks = figure.locator(".tells:visible")
        if touch:
            marks.first.scroll_into_view_if_needed()
            marks.first.tap()
        else:
            marks.first.focus()
        assert figure.locator(".told span").inner_text() == marks.first.get_attribute("aria-label")
        assert not phone.locator("#chosen").is_visible()
    assert listed(phone) == in_all
    button = phone.locator("#blur .told .choose")
    press(button, touch)
    assert phone.locator("#chosen").is_visible()
    assert listed(phone) < in_all
    press(button, touch)
    assert listed(phone) == in_all
