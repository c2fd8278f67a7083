"""Tests of bridge.session.checklist_run: a checklist that the state answers, line by line."""

from __future__ import annotations

import pytest

from bridge.session.checklist_run import DWELL_S, ChecklistRun
from bridge.session.gates_ahead import SATISFIED
from rules.judge.events import ItemStatus
from rules.packs.model import Checklist, ChecklistLine

LIST = Checklist(
    "before", "Before", "captain", tuple(ChecklistLine(name, "", f"item.{name}") for name in ("a", "b", "c"))
)


class ItemLives:
    """Statuses of items, changed by hand."""

    def __init__(self) -> None:
        """All open."""
        self.by_item = {line.item: ItemStatus.OPEN for line in LIST.lines}

    def __call__(self, item: str) -> ItemStatus:
        """Return the status of one item."""
        return self.by_item[item]


@pytest.fixture
def lives() -> ItemLives:
    """All open."""
    return ItemLives()


@pytest.mark.parametrize("life", list(ItemStatus))
def test_a_line_is_passed_by_itself_exactly_where_it_is_so(lives: ItemLives, life: ItemStatus) -> None:
    """Met, confirmed and excused go on; open, lost and without data stay, however long it takes."""
    reading = ChecklistRun(LIST, lives, 0.0)
    lives.by_item["item.a"] = life
    assert reading.advance(DWELL_S + 100) is (life in SATISFIED)
    assert reading.line_index == (1 if life in SATISFIED else 0)


def test_a_line_stays_for_as_long_as_it_takes_to_read_it(lives: ItemLives) -> None:
    """Lines that are so already are still read one after the other."""
    lives.by_item = dict.fromkeys(lives.by_item, ItemStatus.MET)
    reading = ChecklistRun(LIST, lives, 10.0)
    assert not reading.advance(10.0 + DWELL_S - 0.1)
    assert reading.advance(10.0 + DWELL_S)
    assert not reading.advance(10.0 + DWELL_S + 0.1)
    assert reading.advance(10.0 + 2 * DWELL_S)
    assert reading.line_index == 2


def test_a_line_that_becomes_so_later_goes_on_at_once(lives: ItemLives) -> None:
    """A line that was shown long enough while it was open is left as soon as its item is met."""
    reading = ChecklistRun(LIST, lives, 0.0)
    assert not reading.advance(60.0)
    lives.by_item["item.a"] = ItemStatus.MET
    assert reading.advance(60.1)


def test_left_open_is_counted_at_the_end_while_it_is_open(lives: ItemLives) -> None:
    """Lines that were left open are listed at the end, while their items are open."""
    lives.by_item |= {"item.b": ItemStatus.MET, "item.c": ItemStatus.MET}
    reading = ChecklistRun(LIST, lives, 0.0)
    seen: list[bool] = []
    reading.leave_open(1.0)
    reading.advance(1.0 + DWELL_S)
    reading.advance(1.0 + 2 * DWELL_S)
    assert reading.line is None
    seen.append(reading.complete)
    assert [line.challenge for line in reading.open_lines()] == ["a"]
    lives.by_item["item.a"] = ItemStatus.CONFIRMED
    seen.append(reading.complete)
    lives.by_item["item.a"] = ItemStatus.LOST
    seen.append(reading.complete)
    assert seen == [False, True, False]


def test_at_the_end_nothing_goes_on(lives: ItemLives) -> None:
    """Looking and leaving open at the end change nothing."""
    reading = ChecklistRun(LIST, lives, 0.0)
    for _ in LIST.lines:
        reading.leave_open(1.0)
    reading.leave_open(2.0)
    assert not reading.advance(100.0)
    assert (reading.line_index, reading.left_open) == (3, [0, 1, 2])
