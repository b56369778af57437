"""The evening after the trip, by requests: read a card, choose, settle, hand over, take back, close."""

from __future__ import annotations

import json
import re
import shutil
import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from auditor.analysis.hints import hints
from auditor.derive.declaring import declare
from auditor.report.text import values
from auditor.report.text.outcomes import AS_FRAMED
from auditor.store.bursts import bursts_of_trip
from auditor.store.choices import choices_of
from auditor.store.crops import crop_path
from auditor.store.declarations import history
from auditor.store.declared_facts import BodyFacts, Said
from auditor.store.encounter_frames import encounters_of_trip, frames_of_encounter
from auditor.store.logbook import open_logbook
from auditor.store.trips import trips_newest_first
from auditor.words import MissingReason
from tests.desk.conftest import Running, StartDesk, Visitor
from tests.frame_files import Shot, write_frame

SAMPLE = Path(__file__).parents[2] / "sample_images"


def wait(running: Running) -> str:
    """What came of the work."""
    running.desk.work.wait(120)
    assert not running.desk.work.progress.running
    return running.desk.work.progress.said


def asked(page: str) -> list[str]:
    """The names of the questions on a page, in its order."""
    return list(dict.fromkeys(re.findall(r'name="(question_\w+)"', page)))


def hits(running: Running, number: int) -> list[int]:
    with open_logbook(running.logbook) as book:
        sql = "SELECT frame_id FROM frame_facts WHERE verdict = 'hit' ORDER BY taken_at LIMIT ?"
        return [row[0] for row in book.query(sql, (number,))]


def test_a_card_is_read_into_a_new_logbook_and_the_trip_is_there(
    tmp_path: Path, start_desk: StartDesk
) -> None:
    card = tmp_path / "card"
    (card / "DCIM").mkdir(parents=True)
    for file in sorted((SAMPLE / "DCIM").rglob("*.JPG"))[:8]:
        shutil.copy2(file, card / "DCIM")
    with open_logbook(tmp_path / "book" / "logbook.sqlite", create=True):
        pass
    running = start_desk(tmp_path / "book" / "logbook.sqlite")
    visitor = Visitor(running.address).enter()
    assert "No trip yet" in visitor.get("/").text
    assert visitor.post("/read", {"folder": str(card)}).status == 303
    assert wait(running) == "8 files read, 8 frames measured."
    assert "8 frames" in visitor.get("/").text
    visitor.post("/read", {"folder": str(card)})
    assert wait(running) == "Nothing new on it: every frame is in the logbook already."


def test_a_trip_whose_only_picture_is_damaged_is_said_to_be_one(
    tmp_path: Path, start_desk: StartDesk
) -> None:
    file = write_frame(tmp_path / "card" / "TST_0001.JPG", Shot())
    content = file.read_bytes()
    file.write_bytes(content[: content.rfind(b"\xff\xda") + 4])
    with open_logbook(tmp_path / "book" / "logbook.sqlite", create=True):
        pass
    running = start_desk(tmp_path / "book" / "logbook.sqlite")
    visitor = Visitor(running.address).enter()
    visitor.post("/read", {"folder": str(tmp_path / "card")})
    told = "1 picture could not be decoded: the end of a trip's page lists them."
    assert wait(running) == f"1 file read, 0 frames measured. {told}"
    assert "its picture could not be read" in visitor.get("/").text
    visitor.post("/read", {"folder": str(tmp_path / "card")})
    assert wait(running) == f"Nothing new on it: every frame is in the logbook already. {told}"


@pytest.mark.parametrize(
    ("folder", "said"),
    [("", "Name the folder"), ("/no/such/place", "there is no such folder"), ("BOOK", "would lie inside")],
)
def test_a_folder_is_checked_as_the_command_line_checks_it(
    running: Running, visitor: Visitor, folder: str, said: str
) -> None:
    typed = str(running.logbook.parent) if folder == "BOOK" else folder
    answer = visitor.post("/read", {"folder": typed})
    assert answer.status == 409
    assert said in answer.text
    assert running.desk.work.progress.number == 0


def test_a_folder_may_be_pasted_in_quotes(running: Running, visitor: Visitor) -> None:
    """So file managers copy a path."""
    assert visitor.post("/read", {"folder": f' "{SAMPLE}" '}).status == 303
    assert wait(running).startswith("Nothing new on it")
    wanted = {"which": "hits", "way": "copy", "folder": f"'{SAMPLE / 'here'}'"}
    assert (
        f"{SAMPLE / 'here'}: lies inside" in visitor.get(f"/trips/1/hand-over/plan?{urlencode(wanted)}").text
    )


def test_a_choice_is_in_the_logbook_at_once_and_can_be_taken_back(running: Running, visitor: Visitor) -> None:
    first, second = hits(running, 2)
    for frame_id, choice in ((first, "keep"), (second, "leave")):
        answer = visitor.post(f"/frames/{frame_id}/choice", {"choice": choice})
        assert json.loads(answer.text) == {"choice": choice, "said": ""}
    with open_logbook(running.logbook) as book:
        assert choices_of(book, [first, second]) == {first: "keep", second: "leave"}
    assert "kept 1, left 1" in visitor.get("/").text
    assert visitor.post(f"/frames/{second}/choice", {"choice": ""}).status == 200
    assert visitor.post(f"/frames/{second}/choice", {"choice": "maybe"}).status == 400
    assert visitor.post("/frames/999999/choice", {"choice": "keep"}).status == 409
    with open_logbook(running.logbook) as book:
        assert choices_of(book, [first, second]) == {first: "keep"}


def test_an_encounter_shows_every_frame_its_verdict_and_the_suggestion_that_nothing_applied(
    running: Running, visitor: Visitor
) -> None:
    shown = visitor.get("/trips/1/encounters").text
    encounters = re.findall(r'href="(/encounters/\d+)"', shown)
    frames = 0
    for place in encounters:
        page = visitor.get(place).text
        frames += len(re.findall(r"data-frame=", page))
        assert len(re.findall("data-sharpest", page)) <= len(re.findall('class="burst"', page))
        assert 'aria-pressed="true"' not in page
    assert frames == 88
    assert visitor.get("/encounters/999999").status == 409


def test_counts_of_frames_in_focus_say_that_the_report_counts_otherwise(visitor: Visitor) -> None:
    for place in ("/", "/trips/1/encounters"):
        text = visitor.get(place).text
        assert " in focus" in text.partition(AS_FRAMED)[0]
        assert text.count(AS_FRAMED) == 1


def test_pictures_are_cut_from_the_file_at_100_percent(running: Running, visitor: Visitor) -> None:
    import simplejpeg

    (frame_id,) = hits(running, 1)
    whole = visitor.get(f"/frames/{frame_id}/whole.jpg?width=320")
    assert simplejpeg.decode_jpeg_header(whole.body)[1] == 320
    size = int(whole.headers["x-frame-width"]), int(whole.headers["x-frame-height"])
    part = visitor.get(f"/frames/{frame_id}/place.jpg?x=0&y=0&width=300&height=200")
    assert simplejpeg.decode_jpeg_header(part.body)[:2] == (200, 300)
    assert size == (int(part.headers["x-frame-width"]), int(part.headers["x-frame-height"]))
    huge = visitor.get(f"/frames/{frame_id}/place.jpg?x=nan&y=2&width=99999999&height=-3")
    assert simplejpeg.decode_jpeg_header(huge.body)[1] <= 4000


def test_a_card_that_was_pulled_out_says_so_in_one_line(running: Running, visitor: Visitor) -> None:
    (frame_id,) = hits(running, 1)
    with open_logbook(running.logbook) as book, book.writing():
        book.execute("UPDATE files SET path = '/pulled/out/' || path")
    answer = visitor.get(f"/frames/{frame_id}/whole.jpg")
    assert answer.status == 404
    assert answer.text == "The file of this frame is not there now: plug in its card or disk."
    assert visitor.get(f"/frames/{frame_id}/area.jpg").status == 200


def test_a_marked_converter_is_declared_and_taken_back(running: Running, visitor: Visitor) -> None:
    with open_logbook(running.logbook) as book:
        sql = """SELECT DISTINCT burst_id FROM frame_facts
                 WHERE converter_factor = 1 AND body_serial LIKE 'S2%' ORDER BY burst_id LIMIT 2"""
        bursts = [row[0] for row in book.query(sql)]
    changed_ones = f"burst_id IN ({bursts[0]}, {bursts[1]}) AND converter_factor = 1.4"
    count = f"SELECT count(*) FROM frame_facts WHERE {changed_ones}"
    answer = visitor.post("/trips/1/settle/mark", [("what", "1.4"), *(("burst", burst) for burst in bursts)])
    assert answer.status == 303
    undo, changed = re.findall(r"done=(\d+)&changed=(\d+)", answer.headers["location"])[0]
    with open_logbook(running.logbook) as book:
        assert book.query(count)[0][0] == int(changed) > 0
    assert f"{changed} frames changed." in visitor.get(answer.headers["location"]).text
    assert visitor.post("/trips/1/settle/undo", {"number": undo}).status == 303
    with open_logbook(running.logbook) as book:
        assert book.query(count)[0][0] == 0


def test_a_cloud_is_not_suspected_again_and_test_shots_are_left_out(
    running: Running, visitor: Visitor
) -> None:
    before = visitor.get("/trips/1/settle").text
    suspected = re.findall(r'value="(\d+)" aria-label="Burst of [^"]*, suspected"', before)
    assert suspected
    visitor.post("/trips/1/settle/mark", {"what": "cloud", "burst": suspected[0]})
    after = visitor.get("/trips/1/settle").text
    assert suspected[0] not in re.findall(r'value="(\d+)" aria-label="Burst of [^"]*, suspected"', after)
    visitor.post("/trips/1/settle/mark", {"what": "leave out", "burst": suspected[0]})
    assert f'value="{suspected[0]}" aria-label="Burst' not in visitor.get("/trips/1/settle").text


def test_a_cloud_takes_the_place_of_a_converter_that_was_said_before(
    running: Running, visitor: Visitor
) -> None:
    """Both stood, the burst counted as behind a 2x, and the page said of it that none was on."""
    with open_logbook(running.logbook) as book:
        bursts = bursts_of_trip(book, 1)
    said_of = next(burst.burst_id for burst in bursts if burst.bare)
    recorded = next(burst.burst_id for burst in bursts if burst.converter_factor == 2)

    def factors() -> dict[int | None, float | None]:
        with open_logbook(running.logbook) as book:
            return {burst.burst_id: burst.converter_factor for burst in bursts_of_trip(book, 1)}

    visitor.post("/trips/1/settle/mark", {"what": "2", "burst": said_of})
    assert factors()[said_of] == 2
    answer = visitor.post("/trips/1/settle/mark", {"what": "cloud", "burst": said_of})
    assert factors()[said_of] == 1
    (number,) = re.findall(r"done=(\d+)", answer.headers["location"])
    visitor.post("/trips/1/settle/undo", {"number": number})
    assert factors()[said_of] == 2
    assert visitor.post("/trips/1/settle/mark", {"what": "cloud", "burst": recorded}).status == 303
    assert factors()[recorded] == 2
    assert "No converter was on" not in visitor.get("/trips/1/settle").text


def test_every_hint_of_a_trip_is_settled_on_one_page(running: Running, visitor: Visitor) -> None:
    page = visitor.get("/trips/1/settle").text
    assert "<h3>Saltmark S2, 18 April 2026</h3>" in page
    assert '<option value="S2-10093">Saltmark S2</option>' in page
    names = asked(page)
    assert names
    assert visitor.post("/trips/1/settle/answer", {names[0]: "yes"}).status == 303
    left = asked(visitor.get("/trips/1/settle").text)
    assert left == names[1:]
    for no_question in ("question_0", names[0]):
        answer = visitor.post("/trips/1/settle/answer", {no_question: "yes"})
        assert answer.status == 409
        assert "settled already" in answer.text
    none = visitor.post("/trips/1/settle/answer", dict.fromkeys(left, "later"))
    assert "Nothing was answered" in none.text
    visitor.post("/trips/1/settle/answer", dict.fromkeys(left, "no"))
    assert "Nothing was noticed on this trip." in visitor.get("/trips/1/settle").text


def said(page: str) -> list[str]:
    """What a page lists as said, one text a press that takes it back, in its order."""
    return re.findall(r'<li data-said="\d+">\s*<p>(.*?)</p>', page)


def test_what_was_said_is_listed_and_taken_back(running: Running, visitor: Visitor) -> None:
    """An answer is not gone with its question; and what the command line declared is there as well."""
    page = visitor.get("/trips/1/settle").text
    assert said(page) == []
    first, second, *_ = asked(page)
    with open_logbook(running.logbook) as book:
        declare(book, running.desk.settings, [Said(facts=BodyFacts(iso_ceiling=800.0), body="S2-10093")])
    visitor.post("/trips/1/settle/answer", {first: "yes", second: "no"})
    shown = visitor.get("/trips/1/settle").text
    answers, ceiling = said(shown)
    assert answers.startswith("A 1.4x converter was on Saltmark S2 in ")
    assert answers.count(". ") == 1
    assert ceiling == "Saltmark S2: the highest ISO that you accept is 800."
    assert f"Said on {values.days(*2 * (datetime.now().isoformat(),))}, " in shown
    assert first not in asked(shown)
    taken = visitor.post("/trips/1/settle/undo", {"number": "2"})
    again = visitor.get(taken.headers["location"]).text
    assert f"Taken back: {answers}" in again
    assert said(again) == [ceiling]
    assert asked(again) == asked(page)
    twice = visitor.post("/trips/1/settle/undo", {"number": "2"})
    assert (twice.status, "That was taken back already" in twice.text) == (409, True)


def test_what_taking_back_changes_is_what_it_then_changes(running: Running, visitor: Visitor) -> None:
    first, second, *_ = asked(visitor.get("/trips/1/settle").text)
    visitor.post("/trips/1/settle/answer", {first: "yes"})
    visitor.post("/trips/1/settle/answer", {second: "no"})
    told = json.loads(visitor.get("/said/1/changes").text)["said"]
    (frames,) = re.findall(r"changes (\d+) frames\.", told)
    no = json.loads(visitor.get("/said/2/changes").text)["said"]
    assert no == "Taking it back changes no frame; it may be asked about again."
    taken = visitor.post("/trips/1/settle/undo", {"number": "1"})
    assert taken.headers["location"].endswith(f"done=1&changed={frames}")
    assert visitor.get("/said/1/changes").status == 409
    assert visitor.get("/said/99/changes").status == 409


def test_of_much_that_was_said_the_last_stands_open(running: Running, visitor: Visitor) -> None:
    with open_logbook(running.logbook) as book:
        for ceiling in range(100, 800, 100):
            facts = BodyFacts(iso_ceiling=float(ceiling))
            declare(book, running.desk.settings, [Said(facts=facts, body="S2-10093")])
    page = visitor.get("/trips/1/settle").text
    open_ones, _, before = page.partition("<summary>2 things said before</summary>")
    assert [len(said(part)) for part in (open_ones, before)] == [5, 2]
    assert said(page)[0].endswith("is 700.")


def test_a_question_has_one_answer(visitor: Visitor) -> None:
    """Yes and No are alternatives: with both ticked, both were kept in the logbook."""
    page = visitor.get("/trips/1/settle").text
    assert asked(page)
    for name in asked(page):
        assert re.findall(rf'type="radio" name="{name}" value="(\w+)"', page) == ["yes", "no", "later"]


def test_an_answer_from_a_page_shown_earlier_is_of_its_own_question(
    running: Running, visitor: Visitor
) -> None:
    """After Back, or in a second window, the second question of the page is the first of the logbook's."""
    first, second, *_ = asked(visitor.get("/trips/1/settle").text)
    with open_logbook(running.logbook) as book:
        second_hint = hints(book, 1)[1]
    visitor.post("/trips/1/settle/answer", {first: "no"})
    visitor.post("/trips/1/settle/answer", {second: "yes"})
    assert second_hint.said is not None
    with open_logbook(running.logbook) as book:
        said = history(book)[-1]
    assert (said.facts, said.from_at) == (second_hint.said.facts, second_hint.said.from_at)


def test_where_no_picture_is_kept_nothing_is_said_of_squares(running: Running, visitor: Visitor) -> None:
    with open_logbook(running.logbook) as book:
        line = encounters_of_trip(book, 1)[0]
        frames = [frame.frame_id for frame in frames_of_encounter(book, line.encounter_id)]
    place = f"/encounters/{line.encounter_id}"
    assert "All squares show one angle" in visitor.get(place).text
    for frame_id in frames:
        crop_path(running.logbook, frame_id).unlink()
    page = visitor.get(place).text
    assert page.count("no picture kept") == len(frames)
    assert "squares" not in page.partition("<main>")[2].partition("<section")[0]


def test_what_did_not_work_leads_back_to_its_page(visitor: Visitor) -> None:
    for place, fields, back in (
        ("/read", {"folder": "/nowhere/at/all"}, "/"),
        ("/trips/1/settle/clock", {"offset": "soon"}, "/trips/1/settle"),
        ("/trips/1/hand-over/begin", {}, "/trips/1/hand-over"),
    ):
        assert f'<a href="{back}">Go back</a>' in visitor.post(place, fields).text
    for place, back in (("/trips/1/hand-over/plan", "/trips/1/hand-over"), ("/trips/99/settle", "/")):
        assert f'<a href="{back}">Go back</a>' in visitor.get(place).text


def test_a_burst_without_a_light_says_so(running: Running, visitor: Visitor) -> None:
    """Fully manual exposure tells no light: the chart has a column of it without a point."""
    with open_logbook(running.logbook) as book:
        bursts = bursts_of_trip(book, 1)
    assert any(burst.light_value_ev is None for burst in bursts)
    page = visitor.get("/trips/1/settle").text
    assert re.search(r'aria-label="Burst of 16:33:\d\d, \d frames?, no light known"', page)
    assert "fully manual exposure" in page


def test_a_burst_of_which_no_picture_is_kept_has_none_on_the_chart(
    running: Running, visitor: Visitor
) -> None:
    """The browser would draw a broken one."""
    with open_logbook(running.logbook) as book:
        first, second = [burst.burst_id or 0 for burst in bursts_of_trip(book, 1)][:2]
    crop_path(running.logbook, first).unlink()
    page = visitor.get("/trips/1/settle").text
    assert f'src="/frames/{first}/area.jpg"' not in page
    assert f'src="/frames/{second}/area.jpg"' in page
    assert page.count('<span class="unpictured"') == 1


def test_a_burst_whose_files_do_not_tell_of_a_converter_asks_for_it(
    running: Running, visitor: Visitor
) -> None:
    """Such a burst stood as "?" under "Nothing was noticed on this trip"."""
    told = "its files do not say whether a converter was on"
    assert told not in visitor.get("/trips/1/settle").text
    with open_logbook(running.logbook) as book, book.writing():
        book.execute(
            "UPDATE inferred SET converter_factor = NULL WHERE frame_id = (SELECT min(burst_id) FROM bursts)"
        )
    assert told in visitor.get("/trips/1/settle").text


def test_the_answer_leads_to_the_page_that_settles_what_may_be_two_kits(visitor: Visitor) -> None:
    """The desk needs no command line for it."""
    visitor.get("/trips/1/written")
    report = visitor.get("/trips/1").text
    assert "may mix two kits" in report
    assert '<a href="/trips/1/settle">Settle it</a>' in report
    assert "auditor declare hints" not in report.split('id="kits"')[0]


def test_a_burst_in_another_time_zone_than_the_first_says_that_its_time_is_its_own(
    running: Running, visitor: Visitor
) -> None:
    """Beside 06:41 a burst of the same moment at 04:42 would seem to be in the wrong place."""
    of_body = "SELECT frame_id FROM frames WHERE body_model = 'Saltmark S2'"
    with open_logbook(running.logbook) as book:
        both = "SELECT encounter_id FROM membership GROUP BY 1 HAVING count(DISTINCT frame_id IN ({})) = 2"
        encounter_id = book.query(both.format(of_body))[0][0]
        assert "by its own clock" not in visitor.get(f"/encounters/{encounter_id}").text
        with book.writing():
            book.execute(f"UPDATE membership SET shift_s = -7200 WHERE frame_id IN ({of_body})")
        first, *others = frames_of_encounter(book, encounter_id)
        apart = {frame.burst_id for frame in others if frame.shift_s != first.shift_s}
    assert visitor.get(f"/encounters/{encounter_id}").text.count("by its own clock") == len(apart) > 0


def test_the_end_of_an_encounter_says_what_comes_next(running: Running, visitor: Visitor) -> None:
    with open_logbook(running.logbook) as book:
        lines = encounters_of_trip(book, 1)
    first, last = (visitor.get(f"/encounters/{lines[at].encounter_id}").text for at in (0, -1))
    after = first.rpartition("</section>")[2]
    assert f'<a href="/encounters/{lines[1].encounter_id}">' in after
    after = last.rpartition("</section>")[2]
    assert '<a href="/trips/1/hand-over">' in after


def test_the_hand_over_does_not_repeat_what_came_of_a_card(running: Running, visitor: Visitor) -> None:
    assert running.desk.work.begin("Reading", lambda _tell: "12 files read.")
    assert wait(running) == "12 files read."
    shown = visitor.get("/trips/1/hand-over").text
    assert "12 files read." not in shown
    assert "12 files read." in visitor.get("/").text


def test_keepers_are_planned_handed_over_and_taken_back(
    running: Running, visitor: Visitor, tmp_path: Path
) -> None:
    for frame_id in hits(running, 3):
        visitor.post(f"/frames/{frame_id}/choice", {"choice": "keep"})
    target = tmp_path / "keepers"
    wanted = {"which": "chosen", "way": "copy", "folder": str(target)}
    plan = visitor.get(f"/trips/1/hand-over/plan?{urlencode(wanted)}")
    files = int(re.findall(r"3 frames: (\d+) copies would be made", plan.text)[0])  # a sidecar goes along
    assert not target.exists()
    assert visitor.post("/trips/1/hand-over/begin", wanted).status == 303
    assert wait(running) == f"{files} files copied and verified, 0 there already."
    assert len(list(target.iterdir())) == files >= 3
    shown = visitor.get("/trips/1/hand-over").text
    (receipt,) = re.findall(r'name="receipt" value="(\d+)"', shown)
    assert (
        f"{files} files removed, 1 empty folder removed."
        in visitor.post("/trips/1/hand-over/undo", {"receipt": receipt}).text
    )
    assert not target.exists()
    after = visitor.get("/trips/1/hand-over").text
    assert "copied and verified" not in after  # they are gone again


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="a zone of one's own is a thing of POSIX")
def test_a_receipt_tells_the_time_on_the_wall(
    running: Running, visitor: Visitor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The logbook keeps UTC."""
    wanted = {"which": "hits", "way": "copy", "folder": str(tmp_path / "keepers")}
    assert visitor.post("/trips/1/hand-over/begin", wanted).status == 303
    wait(running)
    with monkeypatch.context() as patched:
        patched.setenv("TZ", "EAST-9")
        time.tzset()
        shown = visitor.get("/trips/1/hand-over").text
    time.tzset()
    with open_logbook(running.logbook) as book:
        ((started_at,),) = book.query("SELECT started_at FROM receipts")
    on_the_wall = datetime.fromisoformat(started_at) + timedelta(hours=9)
    assert on_the_wall.strftime("<p>1. %Y-%m-%d %H:%M: ") in shown


def test_the_sharpest_of_each_burst_are_one_a_burst(
    running: Running, visitor: Visitor, tmp_path: Path
) -> None:
    with open_logbook(running.logbook) as book:
        sql = "SELECT count(*), count(DISTINCT burst_id) FROM frame_facts WHERE verdict = 'hit'"
        frames, bursts = book.query(sql)[0]
    assert frames > bursts
    for which, count in (("hits", frames), ("sharpest", bursts)):
        wanted = {"which": which, "way": "copy", "folder": str(tmp_path / "keepers")}
        assert f"{count} frames: " in visitor.get(f"/trips/1/hand-over/plan?{urlencode(wanted)}").text


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"which": "chosen", "way": "copy", "folder": ""}, "Name the folder to hand over to."),
        ({"which": "chosen", "way": "move", "folder": "/tmp/x"}, "Say how"),
        ({"which": "all", "way": "copy", "folder": "/tmp/x"}, "Say which frames"),
        ({"which": "hits", "way": "copy", "folder": str(SAMPLE / "here")}, "never written to"),
        ({"which": "hits", "way": "sidecar", "folder": "/tmp/x"}, "Say what the sidecars should hold"),
        ({"which": "hits", "way": "sidecar", "folder": "/tmp/x", "rating": "9"}, "from 0 to 5"),
    ],
)
def test_a_hand_over_is_checked_as_the_command_line_checks_it(
    visitor: Visitor, fields: dict[str, str], said: str
) -> None:
    answer = visitor.get(f"/trips/1/hand-over/plan?{urlencode(fields)}")
    assert answer.status == 409
    assert said in answer.text


def test_work_goes_on_with_no_page_open_and_can_be_stopped(running: Running, visitor: Visitor) -> None:
    from auditor.desk.work import Tell

    def endless(tell: Tell) -> str:
        for number in range(10_000):
            tell("Reading", "files", number, 10_000)
            time.sleep(0.005)
        return "never"

    assert running.desk.work.begin("Reading", endless)
    assert not running.desk.work.begin("Reading", endless)
    assert "Something is running already" in visitor.post("/read", {"folder": str(SAMPLE)}).text
    time.sleep(0.1)
    assert running.desk.work.progress.done > 0
    visitor.post("/stop")
    assert wait(running) == "Stopped. What was done so far is kept."


def test_its_own_button_closes_it_and_what_was_chosen_is_there_for_the_next(
    running: Running, visitor: Visitor, start_desk: StartDesk
) -> None:
    (frame_id,) = hits(running, 1)
    visitor.post(f"/frames/{frame_id}/choice", {"choice": "keep"})
    assert "The desk is closed" in visitor.post("/close").text
    running.thread.join(20)
    assert not running.thread.is_alive()
    again = Visitor(start_desk(running.logbook).address).enter()
    assert "kept 1, left 0" in again.get("/").text


def test_two_desks_on_one_logbook_lose_nothing(running: Running, start_desk: StartDesk) -> None:
    visitors = [Visitor(each.address).enter() for each in (running, start_desk(running.logbook))]
    chosen = hits(running, 6)
    for number, frame_id in enumerate(chosen):
        assert visitors[number % 2].post(f"/frames/{frame_id}/choice", {"choice": "keep"}).status == 200
    assert all("kept 6, left 0" in visitor.get("/").text for visitor in visitors)


def test_a_logbook_of_a_newer_auditor_says_so_on_the_page(running: Running, visitor: Visitor) -> None:
    with open_logbook(running.logbook) as book, book.writing():
        book.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) "
            "VALUES ('auditor', '9999_later', 'x')"
        )
    answer = visitor.get("/")
    assert answer.status == 409
    assert "written by a newer auditor" in answer.text


def test_what_to_mount_answers_for_the_animal_light_and_distance_asked(visitor: Visitor) -> None:
    near = visitor.get("/mount?animal=heron&light=overcast&distance=15").text
    far = visitor.get("/mount/answer?animal=heron&light=overcast&distance=80").text
    assert "Best kit by light and distance" in near
    assert "<option selected>heron</option>" in near
    assert "80 m" in far
    assert near.split("<h1>")[1] != far
    still, moving = (
        visitor.get(f"/mount/answer?animal=heron&light=overcast&distance=40{how}").text
        for how in ("", "&moving=on")
    )
    slow, fast = (max(map(int, re.findall(r"1/(\d+) s", text))) for text in (still, moving))
    assert fast > 2 * slow
    # An owl is as high as it is long: at 5.5 m 300 mm on the smaller sensor has room for 44 x 29 cm (D).
    close = visitor.get("/mount/answer?animal=owl&light=overcast&distance=5.5").text
    assert "does not fit the frame" in close
    assert "shows the finest detail" not in close
    assert "That cannot be planned" in visitor.get("/mount/answer?distance=0").text
    assert "A distance is a number of metres." in visitor.get("/mount/answer?distance=far").text
    assert "no animal named" in visitor.get("/mount/answer?animal=dragon").text


def test_an_outing_that_cannot_be_is_refused_in_the_words_of_the_page(visitor: Visitor) -> None:
    for distance in ("0", "2"):  # nearer than four focal lengths of 500 mm, as the second is, no image forms
        told = visitor.get(f"/mount?distance={distance}&animal=heron&light=overcast").text
        assert "That cannot be planned: the distance must be " in told
        assert "distance_m" not in told


def test_what_a_bench_measured_stands_beside_the_plan(running: Running, visitor: Visitor) -> None:
    from auditor.store.bench import BenchResult, keep

    result = BenchResult(
        body_make="Saltmark", body_model="Saltmark F2", body_serial="F2-1", lens_name="Saltmark 500mm f/5.6",
        converter_factor=2.0, focal_length_mm=1000, f_number=11, pixel_pitch_um=6, shots=5,
        cycles_per_mrad=31.25, repeatability=0.04,
    )  # fmt: skip
    assert "No kit was measured on a bench yet" in visitor.get("/mount").text
    with open_logbook(running.logbook) as book, book.writing():
        keep(book, [result])
    assert (
        "x 2, f/11: 31.2 cycles/mrad on the subject (5 shots, from shot to shot ±4 %)"
        in visitor.get("/mount").text
    )


def test_a_trip_shows_the_report_itself_and_again_at_once(running: Running, visitor: Visitor) -> None:
    first = visitor.get("/trips/1")
    assert "Working out the answer" in first.text
    assert '<noscript><meta http-equiv="refresh"' in first.text  # else it would be waited for in vain
    assert visitor.get("/trips/1/written").status == 204
    shown = visitor.get("/trips/1")
    assert 'content="auditor"' in shown.text
    assert 'href="/trips/1/encounters"' in shown.text
    assert shown.headers["content-security-policy"] == "frame-ancestors 'none'"
    assert "unsafe" not in re.findall(r'Policy" content="([^"]+)"', shown.text)[0]
    (frame_id,) = hits(running, 1)
    visitor.post(f"/frames/{frame_id}/choice", {"choice": "keep"})
    visitor.get("/trips/1/written")
    assert 'content="auditor"' in visitor.get("/trips/1").text


def test_a_square_in_colour_shows_what_the_grey_one_shows(running: Running, visitor: Visitor) -> None:
    import numpy as np
    import simplejpeg

    for frame_id in hits(running, 4):
        grey = simplejpeg.decode_jpeg(visitor.get(f"/frames/{frame_id}/area.jpg").body, colorspace="GRAY")
        colour = visitor.get(f"/frames/{frame_id}/square.jpg")
        luma = simplejpeg.decode_jpeg(colour.body, colorspace="GRAY")
        assert luma.shape == grey.shape
        assert np.corrcoef(luma.ravel(), grey.ravel())[0, 1] > 0.98
        assert visitor.get(f"/frames/{frame_id}/square.jpg").body == colour.body
    with open_logbook(running.logbook) as book, book.writing():
        book.execute("UPDATE files SET path = '/pulled/out/' || path")
    (gone,) = [each for each in hits(running, 5) if each not in hits(running, 4)]
    assert visitor.get(f"/frames/{gone}/square.jpg").status == 204


def test_clocks_names_and_ends_are_declared(running: Running, visitor: Visitor) -> None:
    def frames_of(condition: str) -> int:
        with open_logbook(running.logbook) as book:
            return int(book.query(f"SELECT count(*) FROM frame_facts WHERE {condition}")[0][0])

    with open_logbook(running.logbook) as book:
        body, first = book.query(
            "SELECT body_serial, min(taken_at) FROM frame_facts WHERE body_serial LIKE 'S2%'"
        )[0]
    own = frames_of(f"body_serial = '{body}'")
    answer = visitor.post("/trips/1/settle/clock", {"body": body, "offset": "+0:02"})
    assert f"changed={own}" in answer.headers["location"]
    later = (datetime.fromisoformat(first) + timedelta(minutes=2)).isoformat()
    assert frames_of(f"body_serial = '{body}' AND taken_at < '{later[:19]}'") == 0
    # Said once more, it is of the same frames by the clock of their camera, whose times have not moved.
    answer = visitor.post("/trips/1/settle/clock", {"body": body, "offset": "+0:03"})
    assert f"changed={own}" in answer.headers["location"]
    assert "is not an offset" in visitor.post("/trips/1/settle/clock", {"body": body, "offset": "soon"}).text
    assert visitor.post("/trips/1/settle/clock", {"body": "none", "offset": "+1"}).status == 409
    assert visitor.post("/trips/1/settle/name", {"name": "Estuary"}).status == 303
    assert "Estuary" in visitor.get("/").text
    ends = {"first": "2026-04-18T00:00", "last": "2026-04-18T23:59"}
    assert visitor.post("/trips/1/settle/ends", ends).status == 303
    assert "88 frames" not in visitor.get("/").text
    assert visitor.post("/trips/1/settle/ends", {"first": "2026-04-19", "last": "2026-04-18"}).status == 409


def left_out(running: Running) -> int:
    with open_logbook(running.logbook) as book:
        return int(book.query("SELECT sum(excluded) FROM inferred")[0][0] or 0)


def test_a_trip_of_which_every_frame_is_left_out_says_so_and_comes_back(
    running: Running, visitor: Visitor
) -> None:
    """It was done, and the page said that it did not work: there is no trip any more."""
    with open_logbook(running.logbook) as book:
        bursts = [burst.burst_id for burst in bursts_of_trip(book, 1)]
    fields: list[tuple[str, object]] = [("what", "leave out"), *(("burst", burst) for burst in bursts)]
    answer = visitor.post("/trips/1/settle/mark", fields)
    assert left_out(running) == 88
    assert (answer.status, "88 frames changed." in answer.text) == (200, True)
    assert "No frame of this trip counts any more" in answer.text
    assert visitor.get("/trips/1/settle").status == 409
    (number,) = re.findall(r'name="number" value="(\d+)"', answer.text)
    taken = visitor.post("/trips/1/settle/undo", {"number": number})
    assert left_out(running) == 0
    back = visitor.get(taken.headers["location"])
    assert (back.status, "88 frames changed." in back.text) == (200, True)


def test_new_ends_lead_to_the_trip_that_has_them_under_its_days(running: Running, visitor: Visitor) -> None:
    """The other part keeps the number where it has more frames; a name of days is that of the new days."""
    name = re.findall(r"<h1>(.*): what no file says</h1>", visitor.get("/trips/1/settle").text)[0]
    assert name == "2026-04-18 to 2026-04-19"
    for day in ("18", "19"):
        ends = {"first": f"2026-04-{day}T00:00", "last": f"2026-04-{day}T23:59"}
        page = visitor.get(visitor.post("/trips/1/settle/ends", ends).headers["location"]).text
        assert f"<h1>2026-04-{day}: what no file says</h1>" in page
        visitor.post("/trips/1/settle/undo", {"number": re.findall(r'name="number" value="(\d+)"', page)[0]})
    visitor.post("/trips/1/settle/name", {"name": "Estuary"})
    ends = {"first": "2026-04-18T00:00", "last": "2026-04-18T23:59"}
    page = visitor.get(visitor.post("/trips/1/settle/ends", ends).headers["location"]).text
    assert "<h1>Estuary: what no file says</h1>" in page


def test_a_trip_that_is_named_by_a_number_is_not_taken_for_the_one_that_has_it(
    running: Running, visitor: Visitor
) -> None:
    ends = {"first": "2026-04-18T00:00", "last": "2026-04-18T23:59"}
    visitor.post("/trips/1/settle/ends", ends)
    with open_logbook(running.logbook) as book:
        ids = [trip.trip_id for trip in trips_newest_first(book)]
    assert len(ids) == 2
    visitor.post(f"/trips/{ids[0]}/settle/name", {"name": str(ids[1])})
    assert f"<h1>{ids[1]}: what" in visitor.get(f"/trips/{ids[0]}/settle").text
    assert "<h1>2026-04-18: what" in visitor.get(f"/trips/{ids[1]}/settle").text


def test_what_the_desk_refuses_it_refuses_in_words_of_its_own(running: Running, visitor: Visitor) -> None:
    """No serial number where a body has a name, no number of a declaration that no page shows."""
    with open_logbook(running.logbook) as book:
        body = bursts_of_trip(book, 1)[0].body
    none = visitor.post("/trips/1/settle/clock", {"body": body, "offset": "0"}).text
    assert "Nothing was declared: it would change no frame. The frames of Saltmark " in none
    assert (
        "An offset of more than a day"
        in visitor.post("/trips/1/settle/clock", {"body": body, "offset": "+30"}).text
    )
    visitor.post("/trips/1/settle/name", {"name": "Estuary"})
    visitor.post("/trips/1/settle/undo", {"number": "1"})
    twice = visitor.post("/trips/1/settle/undo", {"number": "1"})
    assert (twice.status, "That was taken back already" in twice.text) == (409, True)


def test_a_desk_beside_a_scan_gets_along(running: Running, visitor: Visitor, tmp_path: Path) -> None:
    from threading import Thread

    from auditor.jobs.scan import scan
    from auditor.settings import Settings

    card = tmp_path / "second"
    shutil.copytree(SAMPLE / "DCIM", card)
    scanning = Thread(target=lambda: scan(running.logbook, [card], Settings()))
    chosen = hits(running, 12)
    scanning.start()
    answers = [visitor.post(f"/frames/{frame_id}/choice", {"choice": "keep"}).status for frame_id in chosen]
    scanning.join(60)
    assert not scanning.is_alive()
    assert answers == [200] * len(chosen)
    with open_logbook(running.logbook) as book:
        assert len(choices_of(book, chosen)) == len(chosen)
        assert book.problems() == []


def test_a_file_that_no_longer_decodes_says_so_in_one_line(
    running: Running, visitor: Visitor, tmp_path: Path
) -> None:
    (frame_id,) = hits(running, 1)
    broken = tmp_path / "broken.jpg"
    with open_logbook(running.logbook) as book, book.writing():
        path = book.query("SELECT path FROM frame_facts WHERE frame_id = ?", (frame_id,))[0][0]
        broken.write_bytes(Path(path).read_bytes()[:300])
        book.execute("UPDATE files SET path = ? WHERE frame_id = ?", (str(broken), frame_id))
    answer = visitor.get(f"/frames/{frame_id}/whole.jpg")
    assert answer.status == 404
    assert len(answer.text.splitlines()) == 1
    assert answer.text.startswith(
        "This frame cannot be shown: the head of its JPEG is damaged or cut short; "
    )
    assert answer.text.endswith("copy the file again from its card or a backup.")
    broken.unlink()
    gone = visitor.get(f"/frames/{frame_id}/whole.jpg?width=900").text
    assert gone == "The file of this frame is not there now: plug in its card or disk."
    assert visitor.get(f"/frames/{frame_id}/square.jpg").status == 204


def test_an_unclear_frame_says_why(running: Running, visitor: Visitor) -> None:
    with open_logbook(running.logbook) as book:
        sql = """SELECT encounter_id, json_extract(missing, '$.verdict') FROM frame_facts
                 WHERE verdict = 'unclear' AND json_extract(missing, '$.verdict') NOT NULL"""
        rows = book.query(sql)
    assert rows
    for encounter_id, reason in rows:
        assert MissingReason(reason).description in visitor.get(f"/encounters/{encounter_id}").text


def test_stop_keeps_all_that_was_measured(
    running: Running, visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Frames that are done come in several parts: the first must not be the last that is kept."""
    kept = []

    def measured(_book: object, _settings: object, **options: Any) -> None:
        running.desk.work.stop()
        for done in (1, 2, 3):
            kept.append(done)
            options["progress"](done)
        raise KeyboardInterrupt

    monkeypatch.setattr("auditor.jobs.measure.measure", measured)
    assert visitor.post("/read", {"folder": str(SAMPLE)}).status == 303
    said = "Stopped. What was done so far is kept. Read the folder again to go on from there."
    assert wait(running) == said
    assert kept == [1, 2, 3]
