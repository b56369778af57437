"""The report as a reader uses it: numbers, choosing, sorting, hovering, keys, dark paper, phone, print."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from auditor.analysis.kit_table import KitRow, kit_table
from auditor.frames.kit_names import short_names
from auditor.keepers.choose import choose
from auditor.report.text import values
from auditor.store.conditions import Conditions
from auditor.store.derived import kits_in_use
from auditor.store.frame_facts import FrameFacts
from auditor.store.logbook import open_logbook
from auditor.store.selection import selected_frames
from tests.browser.conftest import OpenPage

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

PICTURES = ("clock", "by-light", "blur", "lost", "detail", "iso", "shutter")
BARE = "Saltmark F2 + Saltmark 500mm f/5.6"


@pytest.fixture(scope="module")
def kits(logbook: Path) -> list[KitRow]:
    with open_logbook(logbook) as book:
        names = short_names(kits_in_use(book))
        return [replace(row, kit_name=names[row.kit_id]) for row in kit_table(book)]


@pytest.fixture(scope="module")
def frames(logbook: Path) -> list[FrameFacts]:
    with open_logbook(logbook) as book:
        return selected_frames(book)


def all_frames(page: Page) -> Locator:
    """The list with every frame, filled on asking."""
    asking = page.locator("[data-fill]")
    if asking.is_visible():
        asking.click()
    return page.locator("section[aria-labelledby=frames] [data-list]")


def wall(page: Page, name: str) -> Locator:
    """A wall of focus areas, `flagged` or `best`."""
    return page.locator(f"section[aria-labelledby={name}] [data-list]")


def shown_files(page: Page) -> list[str]:
    """The file names of the rows that can be seen, in their order."""
    rows = all_frames(page).locator("tbody tr:visible th").all_inner_texts()
    return [re.sub(r"\s", "", text).split("/")[-1] for text in rows]


def marks_of(page: Page, picture: str) -> Locator:
    """The marks of a picture that tell their numbers, in the drawing that fits the window."""
    return page.locator(f"#{picture} .tells:visible")


def test_every_picture_is_drawn_and_tells(page: Page) -> None:
    shown = page.locator("figure").evaluate_all("all => all.map(figure => figure.id)")
    assert [key for key in shown if key in PICTURES] == [key for key in PICTURES if key in shown]
    assert {"clock", "blur", "lost", "shutter"} <= set(shown)
    page.locator(".more summary").click()
    for key in shown:
        assert marks_of(page, key).count() > 0, key


def test_the_numbers_are_those_of_the_logbook(page: Page, kits: list[KitRow]) -> None:
    rows = page.locator("section[aria-labelledby=kits] tbody tr").all()
    assert len(rows) == len(kits) == 5
    for row, kit in zip(rows, kits, strict=True):
        cells = [text.replace("\u00a0", " ") for text in row.locator("td").all_inner_texts()]
        assert row.locator("th").inner_text().strip().startswith(values.unbroken(kit.kit_name))
        assert [int(cells[place]) for place in (0, 2)] == [kit.frames, kit.unclear]
        ends = values.interval(kit.hit_rate_low, kit.hit_rate_high)
        assert cells[1].strip() == f"{values.percent(kit.hit_rate)} ({ends})"
        assert cells[4:] == [
            values.typical_iso(kit.median_iso),
            values.typical_iso(kit.median_iso_without_converter),
        ]


def test_a_row_that_may_mix_two_kits_says_so_and_leads_to_how_to_settle_it(page: Page) -> None:
    rows = page.locator("section[aria-labelledby=kits] tbody tr")
    warned = rows.filter(has_text="may mix two kits")
    assert [" ".join(text.split()) for text in warned.locator("th button").all_inner_texts()] == ["S2 300 mm"]
    warned.locator("a").click()
    target = page.locator("#mixed")
    assert "auditor declare hints" in target.inner_text()
    assert page.url.endswith("#mixed")
    assert target.evaluate(
        "one => { const { top } = one.getBoundingClientRect(); return -1 <= top && top < innerHeight; }"
    )


def test_the_kit_table_tells_each_body_and_lens_in_full_once(page: Page) -> None:
    told = page.locator("section[aria-labelledby=kits] tbody th small.note").all_inner_texts()
    assert told == [BARE, "Saltmark S2 + Saltmark 300mm f/4"]


@pytest.mark.parametrize("touch", [False, True])
def test_a_card_unfolds_to_its_workings_by_keys_and_touch(
    opened: OpenPage, report: Path, kits: list[KitRow], touch: bool
) -> None:
    page = opened(report, viewport={"width": 390, "height": 844}, has_touch=touch)
    cards = page.locator(".cards > li")
    assert [text.strip() for text in cards.locator("h3").all_inner_texts()] == [
        values.unbroken(kit.kit_name) for kit in kits
    ]
    last = cards.nth(len(kits) - 1)
    assert "95 % interval" not in last.inner_text().replace("\u00a0", " ")
    summary = last.locator("summary")
    summary.scroll_into_view_if_needed()
    if touch:
        summary.tap()
    else:
        summary.focus()
        page.keyboard.press("Enter")
    assert "95 % interval" in last.inner_text().replace("\u00a0", " ")


def test_the_pictures_show_the_numbers_of_the_logbook(page: Page, logbook: Path) -> None:
    # By one angle where pixels decided, else by the camera's word; blur is drawn of frames that have one.
    sql = """SELECT coalesce(verdict_on_subject, iif(verdict_source = 'camera_word', verdict, 'unclear')),
                    count(*) FROM frame_facts WHERE {which} GROUP BY 1"""
    with closing(sqlite3.connect(logbook)) as connection:
        counted = {
            picture: dict(connection.execute(sql.format(which=which)).fetchall())
            for picture, which in (("clock", "TRUE"), ("blur", "blur_urad NOT NULL"))
        }
    words = {"hit": r"(\d+) in focus", "miss": r"(\d+) missed", "unclear": r"(\d+) unclear"}
    for picture in ("clock", "blur"):
        told = marks_of(page, picture).evaluate_all("all => all.map(mark => mark.getAttribute('aria-label'))")
        found = {word: sum(map(int, re.findall(words[word], " ".join(told)))) for word in words}
        assert found == counted[picture], picture


def test_pointing_at_a_mark_tells_its_numbers(page: Page) -> None:
    mark = marks_of(page, "blur").first
    mark.scroll_into_view_if_needed()
    mark.hover()
    line = page.locator("#blur .told span")
    assert line.inner_text() == mark.get_attribute("aria-label")
    assert line.get_attribute("aria-live") == "polite"
    assert re.search(r"\d+ in focus, \d+ missed", line.inner_text())


def test_a_tap_tells_and_the_button_beside_it_chooses(
    opened: OpenPage, report: Path, frames: list[FrameFacts]
) -> None:
    page = opened(report, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    assert "Tap a mark" in page.locator(".how").inner_text()
    mark = marks_of(page, "blur").first
    mark.scroll_into_view_if_needed()
    mark.tap()
    assert page.locator("#blur .told span").inner_text() == mark.get_attribute("aria-label")
    assert len(shown_files(page)) == len(frames)  # nothing was filtered unasked
    page.locator("#blur .told button").tap()
    assert page.locator("#chosen").is_visible()
    assert 0 < len(shown_files(page)) < len(frames)
    page.locator("#chosen button").tap()
    assert len(shown_files(page)) == len(frames)


@pytest.mark.parametrize("width", [360, 390, 1440])
def test_a_finger_hits_every_mark(opened: OpenPage, report: Path, width: int) -> None:
    """WCAG 2.2, 2.5.8: 24 by 24 CSS pixels (S)."""
    page = opened(report, viewport={"width": width, "height": 844})
    page.locator(".more summary").click()
    sizes = page.locator(".reach:visible").evaluate_all(
        "all => all.map(area => area.getBoundingClientRect()).map(box => Math.min(box.width, box.height))"
    )
    assert len(sizes) > 20
    assert min(sizes) >= 24


def test_one_stop_a_picture_and_arrow_keys_from_mark_to_mark(page: Page) -> None:
    marks = marks_of(page, "lost")
    stops = page.locator("#lost svg").evaluate_all(
        "all => all.map(svg => svg.querySelectorAll('[tabindex=\"0\"]').length)"
    )
    assert set(stops) == {1}
    marks.first.focus()
    assert page.locator("#lost .told span").inner_text() == marks.first.get_attribute("aria-label")
    page.keyboard.press("ArrowDown")
    assert page.locator("#lost .told span").inner_text() == marks.nth(1).get_attribute("aria-label")
    page.keyboard.press("Enter")
    assert page.locator("#chosen").is_visible()
    assert marks.nth(1).get_attribute("aria-pressed") == "true"
    page.keyboard.press("Enter")
    assert not page.locator("#chosen").is_visible()


def test_choosing_a_kit_in_one_picture_marks_it_in_all_and_keeps_its_frames(
    page: Page, kits: list[KitRow], frames: list[FrameFacts]
) -> None:
    kit = next(kit for kit in kits if kit.kit_name.endswith("500 mm x 2"))
    page.locator(f'#lost .tells[data-kit="{kit.kit_id}"]').first.click()
    for picture in ("clock", "blur", "lost", "shutter"):
        parts = page.locator(f"#{picture} .drawing [data-kit]").evaluate_all(
            "all => all.map(part => [Number(part.dataset.kit), part.classList.contains('faded')])"
        )
        assert {faded for kit_id, faded in parts if kit_id == kit.kit_id} == {False}, picture
        assert {faded for kit_id, faded in parts if kit_id != kit.kit_id} == {True}, picture
    own = [Path(row.path or "").name for row in frames if row.kit_id == kit.kit_id]
    assert shown_files(page) == own
    assert all_frames(page).locator("[data-count]").inner_text() == f"{len(own)} of {len(frames)} shown"
    assert values.unbroken(kit.kit_name) in page.locator("#chosen").inner_text()
    page.keyboard.press("Escape")
    assert len(shown_files(page)) == len(frames)
    assert page.locator(".faded").count() == 0


@pytest.mark.parametrize(
    ("select", "option", "fits"),
    [
        ("flag", "smeared", lambda row: "smeared" in row.flags),
        ("verdict", "miss", lambda row: row.verdict == "miss"),
        ("kit", None, lambda row: row.kit_name == BARE),
        ("scene", None, lambda row: row.scene_id is not None),
    ],
)
def test_filters(page: Page, frames: list[FrameFacts], select: str, option: str | None, fits: Any) -> None:
    wanted = [row for row in frames if fits(row)]
    if option is None:
        option = str(getattr(wanted[0], f"{select}_id"))
        wanted = [row for row in wanted if str(getattr(row, f"{select}_id")) == option]
    assert 0 < len(wanted) < len(frames)
    all_frames(page).locator(f"select[name={select}]").select_option(option)
    assert shown_files(page) == [Path(row.path or "").name for row in wanted]


def test_the_best_of_each_burst_is_the_one_that_keepers_takes(
    page: Page, logbook: Path, frames: list[FrameFacts]
) -> None:
    with open_logbook(logbook) as book:
        kept = choose(book, Conditions(), at_most=1).kept
    assert 10 < len(kept) < len(frames)
    all_frames(page).locator("select[name=best]").select_option("yes")
    assert shown_files(page) == [Path(frame.path or "").name for frame in kept]


def test_sorting_by_a_column(page: Page, frames: list[FrameFacts]) -> None:
    by_name = {Path(row.path or "").name: row for row in frames}
    header = all_frames(page).get_by_role("button", name="ISO")
    header.click()
    rising = [by_name[name].iso or 0.0 for name in shown_files(page)]
    assert rising == sorted(rising)
    assert all_frames(page).locator("th[aria-sort]").get_attribute("aria-sort") == "ascending"
    header.click()
    falling = [by_name[name].iso or 0.0 for name in shown_files(page)]
    assert falling == sorted(rising, reverse=True)


def test_the_wall_begins_with_the_most_blurred(page: Page) -> None:
    blur = wall(page, "flagged").locator("[data-frame]").evaluate_all("all => all.map(i => i.dataset.blur)")
    known = [float(value) for value in blur if value]
    assert len(known) > 3
    assert known == sorted(known, reverse=True)
    assert "" not in blur[: len(known)]


@pytest.mark.parametrize("key", ["kitname", "flags", "scene"])
def test_the_wall_sorts_by_kit_flag_and_scene(page: Page, key: str) -> None:
    flagged = wall(page, "flagged")
    flagged.locator(".chooser summary").click()
    flagged.locator("select[name=order]").select_option(f"{key} rising")
    values = flagged.locator("[data-frame]").evaluate_all(f"items => items.map(item => item.dataset.{key})")
    assert len(set(values)) > 2
    assert values == sorted(values, key=int if key == "scene" else str)
    assert flagged.locator("[data-frame]:visible").count() == 12


def test_a_wall_shows_twelve_and_more_on_asking(page: Page, frames: list[FrameFacts]) -> None:
    flagged = wall(page, "flagged")
    in_all = sum(bool(row.flags) for row in frames)
    assert 12 < in_all <= 36
    assert flagged.locator("[data-frame]:visible").count() == 12
    flagged.locator("[data-more]").focus()
    page.keyboard.press("Enter")
    assert flagged.locator("[data-frame]:visible").count() == in_all
    assert not flagged.locator("[data-more]").is_visible()
    assert page.evaluate("document.activeElement.closest('[data-frame]') !== null")


@pytest.mark.parametrize("touch", [False, True])
def test_a_frame_of_the_wall_opens_to_its_facts_and_the_whole_frame(
    opened: OpenPage, report: Path, frames: list[FrameFacts], touch: bool
) -> None:
    page = opened(report, viewport={"width": 390, "height": 844}, has_touch=touch)
    first = wall(page, "flagged").locator("[data-frame]").first
    assert not first.locator("svg.whole").is_visible()
    summary = first.locator("summary")
    summary.scroll_into_view_if_needed()
    if touch:
        summary.tap()
    else:
        summary.focus()
        page.keyboard.press("Enter")
    assert first.locator("svg.whole image").is_visible()
    assert first.locator("svg.whole rect.outline").count() == 2
    name = first.locator(".file").inner_text().split("/")[-1]
    row = next(row for row in frames if Path(row.path or "").name == name)
    assert f"ISO {row.iso:.0f}" in first.inner_text()
    summary.click()
    assert not first.locator("svg.whole").is_visible()


@pytest.mark.parametrize("pixels", [1, 1.5, 2, 3])
def test_focus_areas_are_shown_at_true_size_on_any_screen(
    opened: OpenPage, report: Path, pixels: float
) -> None:
    page = opened(report, viewport={"width": 390, "height": 844}, device_scale_factor=pixels)
    sizes = page.locator(".area:visible").evaluate_all(
        """(all) => all.map((area) => {
          const picture = area.querySelector("img");
          const [drawn, hole] = [picture.getBoundingClientRect(), area.getBoundingClientRect()];
          const fit = getComputedStyle(picture).objectFit;
          const side = Math.min(picture.naturalWidth, picture.naturalHeight);
          return [fit, drawn.width / picture.offsetWidth, side, drawn.width, hole.width, hole.height];
        })"""
    )
    assert len(sizes) > 14
    for fit, scale, side_px, drawn, hole_width, hole_height in sizes:
        assert fit == "none"
        assert scale * pixels == pytest.approx(1, abs=0.01)  # a pixel of the picture is one of the screen
        assert drawn == pytest.approx(hole_width, abs=1)
        assert hole_width * pixels <= side_px + 1  # nothing is left empty beside it
        assert hole_height == pytest.approx(hole_width, abs=1)


def test_focus_areas_are_in_colour(page: Page) -> None:
    spread = page.locator(".wall .area img").first.evaluate(
        """async (picture) => {
          await picture.decode();
          const canvas = document.createElement("canvas");
          [canvas.width, canvas.height] = [picture.naturalWidth, picture.naturalHeight];
          const context = canvas.getContext("2d");
          context.drawImage(picture, 0, 0);
          const { data } = context.getImageData(0, 0, canvas.width, canvas.height);
          let most = 0;
          for (let at = 0; at < data.length; at += 4) {
            most = Math.max(most, Math.abs(data[at] - data[at + 2]));
          }
          return most;
        }"""
    )
    assert spread > 30


def test_a_choice_that_leaves_nothing_says_so_and_is_taken_back_at_once(page: Page) -> None:
    listed = all_frames(page)
    assert not listed.locator("[data-reset]").is_visible()
    listed.locator("select[name=verdict]").select_option("miss")
    listed.locator("select[name=best]").select_option("yes")
    assert listed.locator("tbody tr:visible").count() == 0
    assert listed.locator("[data-count]").inner_text() == "No frame fits what was chosen."
    listed.locator("[data-reset]").focus()
    page.keyboard.press("Enter")
    assert listed.locator("tbody tr:visible").count() == 88
    assert {select.input_value() for select in listed.locator("select").all()} == {""}
    assert not listed.locator("[data-reset]").is_visible()


def test_the_table_is_filled_on_asking(page: Page, frames: list[FrameFacts]) -> None:
    assert page.locator("section[aria-labelledby=frames] tbody tr").count() == 0
    page.locator("[data-fill]").focus()
    page.keyboard.press("Enter")
    assert page.locator("section[aria-labelledby=frames] tbody tr:visible").count() == len(frames)
    assert page.evaluate("document.activeElement.name") == "kit"


def test_everything_can_be_reached_by_keyboard(page: Page, kits: list[KitRow]) -> None:
    seen = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        seen.add(
            page.evaluate("document.activeElement.tagName + ' ' + document.activeElement.textContent.trim()")
        )
    assert any(text.startswith("SUMMARY") for text in seen)
    assert len(shown_files(page)) == sum(kit.frames for kit in kits)
    button = page.locator("section[aria-labelledby=kits] button[data-kit]").first
    button.focus()
    page.keyboard.press("Enter")
    assert button.get_attribute("aria-pressed") == "true"
    assert len(shown_files(page)) == kits[0].frames
    page.keyboard.press("Enter")
    assert button.get_attribute("aria-pressed") == "false"
    all_frames(page).get_by_role("button", name="Shutter").focus()
    page.keyboard.press("Enter")
    assert all_frames(page).locator("th[aria-sort]").inner_text().startswith("Shutter")


RATIO_TO_PAPER = """
  const light = (text) => {
    const [r, g, b] = text.match(/[\\d.]+/g).slice(0, 3).map((part) => {
      const share = Number(part) / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const paper = light(getComputedStyle(document.body).backgroundColor);
  const ratio = (text) => {
    const ink = light(text);
    return (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05);
  };
"""
"""Contrast by WCAG 2.2: relative luminance of sRGB, both raised by 0.05 (S)."""


def with_ratio(body: str) -> str:
    return f"() => {{{RATIO_TO_PAPER}{body}}}"


CONTRAST = with_ratio("""
  const style = (selector, name) => getComputedStyle(document.querySelector(selector))[name];
  return {
    paper,
    ratios: [
      ratio(style("body", "color")), ratio(style(".note", "color")), ratio(style(".told", "color")),
      ratio(style("#blur svg text", "fill")), ratio(style("#blur svg .quiet", "fill")),
    ],
  };
""")
CONTRAST_OF_LETTERS = with_ratio("""
  const letters = Array.from(document.querySelectorAll(".drawing text"));
  const ratios = letters.map((text) => ratio(getComputedStyle(text).fill));
  return { letters: ratios.length, least: Math.min(...ratios) };
""")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_light_and_dark_paper_keep_contrast(opened: OpenPage, report: Path, scheme: str) -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text (S)."""
    found = opened(report, color_scheme=scheme).evaluate(CONTRAST)
    assert (found["paper"] > 0.5) == (scheme == "light")
    assert min(found["ratios"]) >= 4.5


@pytest.mark.parametrize("width", [360, 768, 1600])
def test_no_width_scrolls_sideways(opened: OpenPage, report: Path, width: int) -> None:
    page = opened(report, viewport={"width": width, "height": 760})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    for picture in page.locator(".drawing:visible").all():
        box = picture.bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= width
        assert box["width"] >= min(width - 40, 340)
    for key in ("clock", "trips"):
        assert page.locator(f"#{key} .drawing:visible").count() == page.locator(f"#{key}").count()


def sheets(page: Page, path: Path, paper: str) -> int:
    """How many sheets the page is printed on."""
    page.pdf(path=str(path), format=paper)
    data = path.read_bytes()
    assert data.startswith(b"%PDF")
    return len(re.findall(rb"/Type\s*/Page\b", data))


def test_print(page: Page, tmp_path: Path) -> None:
    """Answers, pictures and method on at most six sheets; kit by kit and lists where the box is ticked."""
    printed = {paper: sheets(page, tmp_path / f"{paper}.pdf", paper) for paper in ("A4", "Letter")}
    assert min(printed.values()) >= 3
    assert max(printed.values()) <= 6
    page.locator("#print-lists").check()
    assert sheets(page, tmp_path / "lists.pdf", "A4") > printed["A4"]
    page.locator("#print-lists").uncheck()
    page.emulate_media(media="print", color_scheme="dark")
    page.set_viewport_size({"width": 688, "height": 1000})  # A4 within its margins
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    for hidden in (".filters", ".told", "#chosen", ".more"):
        assert not page.locator(hidden).first.is_visible()
    shown = page.locator(".drawing:visible").all()
    assert len(shown) > 4
    for picture in shown:
        box = picture.bounding_box()
        assert box is not None
        assert box["x"] + box["width"] <= 690


def test_without_javascript_pictures_and_answers_are_there(opened: OpenPage, report: Path) -> None:
    page = opened(report, java_script_enabled=False)
    assert page.locator(".drawing:visible").count() > 4
    assert page.locator(".wall [data-frame]:visible").count() > 12
    assert page.locator("section[aria-labelledby=frames] noscript").count() == 1
    assert not page.locator(".filters").first.is_visible()
    assert not page.locator("[data-fill]").is_visible()
    assert page.locator("#clock .tells:visible").count() >= 5
    assert page.locator("#chosen").is_visible() is False


def test_the_policy_lets_nothing_else_run(browser: Any, report: Path) -> None:
    """W3C, Content Security Policy Level 3: added script, handler, style and loads are refused (S)."""
    context = browser.new_context(offline=True)
    page = context.new_page()
    page.goto(report.as_uri())
    tried = page.evaluate(
        """async () => {
          const script = document.createElement("script");
          script.textContent = "window.ran = true";
          document.body.append(script);
          const link = document.createElement("a");
          link.setAttribute("onclick", "window.ran = true");
          document.body.append(link);
          link.click();
          const style = document.createElement("style");
          style.textContent = "body { display: none }";
          document.head.append(style);
          const fetched = await fetch("data:text/plain,x").then(() => true, () => false);
          const hidden = getComputedStyle(document.body).display === "none";
          return { ran: window.ran === true, hidden, fetched };
        }"""
    )
    policy = page.locator("meta[http-equiv]").get_attribute("content")
    context.close()
    assert tried == {"ran": False, "hidden": False, "fetched": False}
    assert "unsafe" not in policy


@pytest.mark.parametrize(
    "options", [{}, {"color_scheme": "dark"}, {"viewport": {"width": 360, "height": 760}}]
)
def test_accessibility_by_axe(opened: OpenPage, report: Path, axe: str, options: dict[str, Any]) -> None:
    """axe-core, all of its rules: no violation, and no contrast that it leaves open.

    The ground of letters in drawings it cannot tell: that is paper, so theirs is worked out here (WCAG 2.2,
    1.4.3).
    """
    page = opened(report, **options)
    page.evaluate("for (const fold of document.querySelectorAll('main details')) fold.open = true")
    page.evaluate(axe)
    # Rules that pass are told without the elements they passed on, which take most of the time.
    found = page.evaluate("axe.run(document, { resultTypes: ['violations', 'incomplete'] })")
    assert len(found["passes"]) > 20
    bad = [f"{rule['id']}: {rule['help']}: {rule['nodes'][0]['html'][:200]}" for rule in found["violations"]]
    assert bad == []
    still_open = [
        node["html"]
        for rule in found["incomplete"]
        for node in rule["nodes"]
        if rule["id"] == "color-contrast" and not node["html"].startswith("<text")
    ]
    assert still_open == []
    drawn = page.evaluate(CONTRAST_OF_LETTERS)
    assert drawn["letters"] > 60
    assert drawn["least"] >= 4.5


def test_headings_and_table_heads(page: Page) -> None:
    levels = page.locator("h1, h2, h3").evaluate_all("all => all.map(h => Number(h.tagName[1]))")
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    heads = page.locator("th").evaluate_all("all => all.map(th => th.getAttribute('scope'))")
    assert set(heads) == {"col", "row"}
