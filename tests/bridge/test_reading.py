"""Tests of bridge.reading: a checklist that the state answers, line by line."""

from __future__ import annotations

import pytest

from bridge.reading import DWELL_S, PASSED, Reading
from rules.judge.entries import Life
from rules.packs.model import Checklist, Line

LIST = Checklist(
    "before", "Before", "captain", tuple(Line(name, "", f"item.{name}") for name in ("a", "b", "c"))
)


class Lives:
    """How items stand, changed by hand."""

    def __init__(self) -> None:
        """All open."""
        self.of = {line.item: Life.OPEN for line in LIST.lines}

    def __call__(self, item: str) -> Life:
        """How one stands."""
        return self.of[item]


@pytest.fixture
def lives() -> Lives:
    """All open."""
    return Lives()


@pytest.mark.parametrize("life", list(Life))
def test_a_line_is_passed_by_itself_exactly_where_it_is_so(lives: Lives, life: Life) -> None:
    """Met, confirmed and excused go on; open, lost and without data stay, however long it takes."""
    reading = Reading(LIST, lives, 0.0)
    lives.of["item.a"] = life
    assert reading.look(DWELL_S + 100) is (life in PASSED)
    assert reading.at == (1 if life in PASSED else 0)


def test_a_line_stays_for_as_long_as_it_takes_to_read_it(lives: Lives) -> None:
    """Lines that are so already are still read one after the other."""
    lives.of = dict.fromkeys(lives.of, Life.MET)
    reading = Reading(LIST, lives, 10.0)
    assert not reading.look(10.0 + DWELL_S - 0.1)
    assert reading.look(10.0 + DWELL_S)
    assert not reading.look(10.0 + DWELL_S + 0.1)
    assert reading.look(10.0 + 2 * DWELL_S)
    assert reading.at == 2


def test_a_line_that_becomes_so_later_goes_on_at_once(lives: Lives) -> None:
    """One that was at for long enough while it was open goes on as soon as it is so."""
    reading = Reading(LIST, lives, 0.0)
    assert not reading.look(60.0)
    lives.of["item.a"] = Life.MET
    assert reading.look(60.1)


def test_left_open_is_counted_at_the_end_while_it_is_open(lives: Lives) -> None:
    """What was left open is told at the end; once it is so the list is complete, and not when it is lost again."""
    lives.of |= {"item.b": Life.MET, "item.c": Life.MET}
    reading = Reading(LIST, lives, 0.0)
    seen: list[bool] = []
    reading.leave_open(1.0)
    reading.look(1.0 + DWELL_S)
    reading.look(1.0 + 2 * DWELL_S)
    assert reading.line is None
    seen.append(reading.complete)
    assert [line.challenge for line in reading.still_open()] == ["a"]
    lives.of["item.a"] = Life.CONFIRMED
    seen.append(reading.complete)
    lives.of["item.a"] = Life.LOST
    seen.append(reading.complete)
    assert seen == [False, True, False]


def test_at_the_end_nothing_goes_on(lives: Lives) -> None:
    """Looking and leaving open at the end change nothing."""
    reading = Reading(LIST, lives, 0.0)
    for _ in LIST.lines:
        reading.leave_open(1.0)
    reading.leave_open(2.0)
    assert not reading.look(100.0)
    assert (reading.at, reading.left) == (3, [0, 1, 2])
