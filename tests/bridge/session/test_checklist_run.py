"""Tests of bridge.session.checklist_run: the progress of a checklist, line by line."""

from __future__ import annotations

import pytest

from bridge.session.checklist_run import DWELL_S, ChecklistRun
from rules.judge.events import ItemStatus
from rules.judge.snapshot import SATISFIED
from rules.packs.model import Checklist, ChecklistLine

LIST = Checklist(
    "before",
    "Before",
    "captain",
    (
        ChecklistLine("checklist.before.a", "a", "", ("item.a",)),
        ChecklistLine("checklist.before.b", "b", "", ("item.b", "item.also_b")),
        ChecklistLine("checklist.before.c", "c", "", ("item.c",)),
    ),
)


class ItemStatuses:
    """Statuses of items that a test changes."""

    def __init__(self) -> None:
        """Start with all items open."""
        self.by_item = {item: ItemStatus.OPEN for line in LIST.lines for item in line.items}

    def __call__(self, item: str) -> bool:
        """Return True if the item is satisfied."""
        return self.by_item[item] in SATISFIED


@pytest.fixture
def statuses() -> ItemStatuses:
    """Give open items."""
    return ItemStatuses()


@pytest.mark.parametrize("status", list(ItemStatus))
def test_the_run_advances_only_from_satisfied_lines(statuses: ItemStatuses, status: ItemStatus) -> None:
    """Lines with a satisfied status are passed after their dwell; open, lost and unknown ones stay."""
    run = ChecklistRun(LIST, statuses, 0.0)
    statuses.by_item["item.a"] = status
    assert run.advance(DWELL_S + 100) is (status in SATISFIED)
    assert run.line_index == (1 if status in SATISFIED else 0)


def test_each_line_is_shown_for_its_dwell(statuses: ItemStatuses) -> None:
    """Lines that are met from the start are still shown one after the other."""
    statuses.by_item = dict.fromkeys(statuses.by_item, ItemStatus.MET)
    run = ChecklistRun(LIST, statuses, 10.0)
    assert not run.advance(10.0 + DWELL_S - 0.1)
    assert run.advance(10.0 + DWELL_S)
    assert not run.advance(10.0 + DWELL_S + 0.1)
    assert run.advance(10.0 + 2 * DWELL_S)
    assert run.line_index == 2


def test_a_line_that_is_met_later_is_passed_at_once(statuses: ItemStatuses) -> None:
    """A line that was shown for its dwell while open is passed as soon as its item is met."""
    run = ChecklistRun(LIST, statuses, 0.0)
    assert not run.advance(60.0)
    statuses.by_item["item.a"] = ItemStatus.MET
    assert run.advance(60.1)


def test_the_end_lists_the_lines_that_are_still_open(statuses: ItemStatuses) -> None:
    """Lines that were left open are listed at the end, while their items are open."""
    statuses.by_item |= dict.fromkeys(("item.b", "item.also_b", "item.c"), ItemStatus.MET)
    run = ChecklistRun(LIST, statuses, 0.0)
    complete: list[bool] = []
    run.leave_open(1.0)
    run.advance(1.0 + DWELL_S)
    run.advance(1.0 + 2 * DWELL_S)
    assert run.line is None
    complete.append(run.complete)
    assert [line.challenge for line in run.open_lines()] == ["a"]
    statuses.by_item["item.a"] = ItemStatus.CONFIRMED
    complete.append(run.complete)
    statuses.by_item["item.a"] = ItemStatus.LOST
    complete.append(run.complete)
    assert complete == [False, True, False]


def test_all_items_of_a_line_must_be_satisfied(statuses: ItemStatuses) -> None:
    """A line that reads two items stays until both are satisfied."""
    statuses.by_item |= {"item.a": ItemStatus.MET, "item.b": ItemStatus.MET}
    run = ChecklistRun(LIST, statuses, 0.0)
    run.advance(DWELL_S)
    assert not run.advance(100.0)
    statuses.by_item["item.also_b"] = ItemStatus.CONFIRMED
    assert run.advance(101.0)


def test_a_line_that_is_lost_after_it_was_read_is_open_again(statuses: ItemStatuses) -> None:
    """A run is not complete while a line that was met when it was read is not met any more."""
    statuses.by_item = dict.fromkeys(statuses.by_item, ItemStatus.MET)
    run = ChecklistRun(LIST, statuses, 0.0)
    for step in (1, 2, 3):
        run.advance(step * DWELL_S)
    complete = [run.complete]
    statuses.by_item["item.also_b"] = ItemStatus.LOST
    complete.append(run.complete)
    assert complete == [True, False]
    assert [line.challenge for line in run.open_lines()] == ["b"]


def test_a_finished_run_does_not_change(statuses: ItemStatuses) -> None:
    """After the last line advancing and leaving open change nothing."""
    run = ChecklistRun(LIST, statuses, 0.0)
    for _ in LIST.lines:
        run.leave_open(1.0)
    run.leave_open(2.0)
    assert not run.advance(100.0)
    assert run.line_index == 3
    assert run.open_lines() == list(LIST.lines)
