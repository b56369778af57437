"""Nobody but the browser that was given the address may read or change anything."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import urlsplit

from auditor.desk.guard import ASK_THE_TERMINAL
from auditor.store.choices import choices_of
from auditor.store.logbook import open_logbook
from tests.desk.conftest import Running, Visitor

READ = ["/", "/trips/1", "/trips/1/encounters", "/trips/1/settle", "/trips/1/hand-over", "/frames/1/area.jpg",
        "/frames/1/whole.jpg", "/frames/1/place.jpg", "/progress", "/static/desk.css"]  # fmt: skip
CHANGE = ["/frames/1/choice", "/read", "/stop", "/close", "/trips/1/settle/mark", "/trips/1/hand-over/begin"]


def nothing_changed(running: Running) -> bool:
    with open_logbook(running.logbook) as book:
        return choices_of(book, [1]) == {} and not running.desk.close_asked


def test_without_the_key_of_this_run_nothing_is_shown(running: Running) -> None:
    stranger = Visitor(running.address)
    for cookie in ("", f"desk-{urlsplit(running.address).port}=guess", "desk=x"):
        stranger.cookie = cookie
        for path in READ:
            answer = stranger.get(path)
            assert (answer.status, answer.text) == (403, ASK_THE_TERMINAL), path


def test_a_wrong_key_does_not_open_and_the_right_one_opens_the_first_page_alone(running: Running) -> None:
    stranger = Visitor(running.address)
    key = urlsplit(running.address).query
    assert stranger.get("/?key=guess").status == 403
    assert stranger.get(f"/trips/1?{key}").status == 403
    assert stranger.post(f"/?{key}").status == 403


def test_the_cookie_is_kept_from_scripts_and_other_sites(running: Running) -> None:
    opened = Visitor(running.address).get(f"/?{urlsplit(running.address).query}")
    cookie = opened.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


def test_a_name_that_was_made_to_lead_here_is_refused(running: Running, visitor: Visitor) -> None:
    port = urlsplit(running.address).port
    for host in ("rebound.example", f"rebound.example:{port}", f"localhost:{port}", "127.0.0.1", ""):
        for path in (*READ, *CHANGE):
            answer = visitor.ask("POST" if path in CHANGE else "GET", path, Host=host)
            assert answer.status in (400, 403), (host, path)  # 400: no host at all, refused by the server
    assert nothing_changed(running)


def test_another_site_changes_nothing_even_with_the_cookie(running: Running, visitor: Visitor) -> None:
    for path in CHANGE:
        for origin in ("https://other.example", "null", "http://127.0.0.1:1", None):
            assert visitor.post(path, {"choice": "keep"}, Origin=origin).status == 403
        assert visitor.post(path, {"choice": "keep"}, Sec_Fetch_Site="cross-site").status == 403
    assert nothing_changed(running)


def test_another_site_cannot_read_with_the_cookie(visitor: Visitor) -> None:
    for path in READ:
        for site in ("cross-site", "same-site"):
            assert visitor.get(path, Sec_Fetch_Site=site).status == 403


def test_every_answer_says_that_nothing_inline_runs_and_nothing_may_frame_it(
    running: Running, visitor: Visitor
) -> None:
    for path in ("/", "/trips/1/encounters", "/nowhere", "/static/choose.js", "/frames/999/area.jpg"):
        policy = visitor.get(path).headers["content-security-policy"]
        assert "unsafe" not in policy
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
    assert Visitor(running.address).get("/").headers["x-content-type-options"] == "nosniff"


def test_no_path_from_the_browser_is_opened(visitor: Visitor) -> None:
    for path in (
        "/static/../desk.py", "/static/%2e%2e%2fdesk.py", "/static/..%5cdesk.py", "/trips/x", "//etc/passwd",
        "/frames/../../etc/passwd/area.jpg", "/frames/-1/area.jpg", "/frames/1e3/whole.jpg",
        "/frames/%2Fetc%2Fpasswd/whole.jpg",
    ):  # fmt: skip
        answer = visitor.get(path)
        assert answer.status == 404, path
        assert "root:" not in answer.text


def test_pictures_come_only_of_frames_that_the_logbook_knows(visitor: Visitor) -> None:
    assert visitor.get("/frames/999999/whole.jpg").text == "The logbook has no such frame."
    assert visitor.get("/frames/999999/area.jpg").status == 404


def test_text_from_files_is_shown_as_text(running: Running, visitor: Visitor) -> None:
    hostile = "<img src=x onerror=alert(1)>\x1b[2J"
    with open_logbook(running.logbook) as book, book.writing():
        book.execute("UPDATE trips SET name = ?", (hostile,))
        book.execute("UPDATE files SET path = replace(path, 'DCIM', ?)", (hostile,))
    for path in ("/", "/trips/1/encounters", "/trips/1/settle", "/trips/1/hand-over"):
        shown = visitor.get(path).text
        assert "<img src=x" not in shown
        assert "\x1b" not in shown
        assert "&lt;img src=x onerror" in shown


def test_each_run_has_a_key_of_its_own(tmp_path: Path, running: Running, start_desk: object) -> None:
    assert callable(start_desk)
    other = start_desk(running.logbook)
    keys = {urlsplit(each.address).query for each in (running, other)}
    assert len(keys) == 2
    assert all(re.fullmatch(r"key=[\w-]{32}", key) for key in keys)
