"""A task that gives fewer results than it was handed items is told at once, not taken for one that hangs."""

from __future__ import annotations

import pytest

from auditor.jobs import workers


def all_but_one(items: list[int]) -> list[int]:
    return items[1:]


def test_a_task_that_answers_too_little_is_a_fault_of_the_task() -> None:
    with pytest.raises(RuntimeError, match="2 items gave 1 results"):
        list(workers.run(all_but_one, [1, 2, 3, 4], jobs=2, chunk=2, worth_workers=2))
