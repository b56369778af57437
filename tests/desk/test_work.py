"""What runs behind the desk tells how far it is and how long it will still take."""

import pytest

from auditor.desk.work import Progress, Tell, Work


def test_the_time_that_is_left_is_that_of_what_is_left_at_the_same_pace(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """20 of 100 in 10 s: 2 a second, and 80 more take 40 s. A new stage has a pace of its own (D)."""
    clock_s = 0.0
    monkeypatch.setattr("auditor.desk.work.time.monotonic", lambda: clock_s)
    work = Work()
    told: list[Progress] = []

    def task(tell: Tell) -> str:
        nonlocal clock_s
        for doing, done, at_s in (
            ("Reading", 0, 0.0), ("Reading", 20, 10.0), ("Measuring", 0, 10.0), ("Measuring", 5, 20.0),
        ):  # fmt: skip
            clock_s = at_s
            tell(doing, "files", done, 100)
            told.append(work.progress)
        return "Done."

    assert work.begin("Reading", task)
    work.wait(20)
    assert [(each.a_second, each.left_s) for each in told] == [
        (None, None),
        (2, 40),
        (None, None),
        (0.5, 190),
    ]
    assert (work.progress.said, work.progress.running, work.progress.left_s) == ("Done.", False, None)
