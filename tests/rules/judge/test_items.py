"""An item's life, its verdicts on the record, and what the crew and the instructor may say of it."""

from __future__ import annotations

import pytest

from rules.faults import InputFaults
from rules.judge.entries import Life, Verdict, VerdictChanged
from rules.judge.items import verdict_of
from rules.language import checked as c
from rules.packs.model import Item
from tests.rules.judge.making import BEACON, PUMP, Flight, Rules, item, on, only, push, replace, told

BEACON_ON, PUMP_ON = item("beacon", on(BEACON)), item("pump", on(PUMP))
PAPERS = item("papers", None, confirm="Papers on board")


def lives(flight: Flight, name: str) -> list[tuple[Verdict, Life]]:
    """What the record says of an item."""
    said = [e for e in only(flight.entries, VerdictChanged) if e.item == name]
    return [(e.verdict, e.life) for e in said]


def test_open_met_lost_met() -> None:
    """An item is open, met, lost and met again, and every step is on the record with its sentence."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    flight.at(2, beacon="on")
    flight.at(5, beacon="off")
    flight.at(8, beacon="on")
    assert lives(flight, BEACON_ON.id) == [
        (Verdict.UNMET, Life.OPEN),
        (Verdict.MET, Life.MET),
        (Verdict.UNMET, Life.LOST),
        (Verdict.MET, Life.MET),
    ]
    assert all(entry.sentence for entry in only(flight.entries, VerdictChanged))


def test_stale_is_unknown_and_not_met() -> None:
    """An item whose signal goes out of date is unknown and lost, and met again when it comes back."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0, beacon="on")
    flight.until(1, 4)
    del flight.values["beacon"]
    flight.until(5, 9)
    flight.at(10, beacon="on")
    assert lives(flight, BEACON_ON.id)[-2:] == [(Verdict.UNKNOWN, Life.LOST), (Verdict.MET, Life.MET)]


def test_verdicts_stand_in_the_packs_order() -> None:
    """What changes in one sample is recorded in the order of the pack."""
    flight = Flight(Rules([PUMP_ON, BEACON_ON]))
    flight.at(0)
    entries = flight.at(1, beacon="on", pump="on")
    assert [e.item for e in only(entries, VerdictChanged)] == [PUMP_ON.id, BEACON_ON.id]


def test_confirmed_by_a_seat() -> None:
    """Where no signal can show it, the crew's word makes it confirmed, and the record names the seat."""
    flight = Flight(Rules([PAPERS]))
    flight.at(0)
    entries = flight.core.confirm(PAPERS.id, "first_officer")
    said = only(entries, VerdictChanged)[0]
    assert (said.verdict, said.life, said.actual) == (Verdict.MET, Life.CONFIRMED, "confirmed")
    assert "First officer" in said.sentence


def test_not_confirmed_is_omitted_and_closes_by_confirming() -> None:
    """An item to be confirmed is a need like any other."""
    flight = Flight(Rules([PAPERS]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(2)
    assert flight.kinds == ["omitted papers"]
    assert told(flight.entries) == ["Before push back: Papers on board: not confirmed."]
    flight.core.confirm(PAPERS.id)
    flight.at(3)
    assert flight.core.findings[0].closed_s == 2


def test_confirmed_before_the_first_frame() -> None:
    """A word given before the first frame counts."""
    flight = Flight(Rules([PAPERS]))
    assert flight.core.confirm(PAPERS.id) == []
    flight.at(0)
    assert lives(flight, PAPERS.id) == [(Verdict.MET, Life.CONFIRMED)]


@pytest.mark.parametrize(
    ("name", "seat", "words"),
    [
        (BEACON_ON.id, "captain", "the aeroplane shows"),
        ("flow.before.beaken", "captain", "did you mean flow.before.beacon?"),
        (PAPERS.id, "captan", "did you mean captain?"),
    ],
)
def test_refused_confirmations(name: str, seat: str, words: str) -> None:
    """So, not said: what a signal shows cannot be confirmed; unknown names are refused with a hint."""
    flight = Flight(Rules([BEACON_ON, PAPERS]))
    flight.at(0)
    with pytest.raises(InputFaults, match="confirm") as caught:
        flight.core.confirm(name, seat)
    assert words in str(caught.value)
    assert flight.core.items.states[BEACON_ON.id].truth is False


def test_dispatched_inoperative_is_excused_from_the_start() -> None:
    """An item that the trip sheet excuses gives no finding and counts for those that ask whether it is met."""
    excused = replace(BEACON_ON, excused="dispatched inoperative")
    asking = item("asking", c.ItemMet(excused.id, "beacon"))
    flight = Flight(Rules([excused, asking]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(5, speed=3.0)
    assert flight.kinds == []
    assert lives(flight, excused.id) == [(Verdict.UNKNOWN, Life.EXCUSED)]
    assert lives(flight, asking.id) == [(Verdict.MET, Life.MET)]


def test_excused_by_the_instructor() -> None:
    """The instructor's excuse closes what was found and says why on the record."""
    asking = item("asking", c.ItemMet(BEACON_ON.id, "beacon"))
    flight = Flight(Rules([BEACON_ON, asking], gates=[push([BEACON_ON.id])]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(3)
    entries = flight.core.excuse(BEACON_ON.id, "instructor", "lamp failed")
    assert flight.core.findings[0].closed_s == 3
    said = only(entries, VerdictChanged)
    assert [(e.item, e.life) for e in said] == [(BEACON_ON.id, Life.EXCUSED), (asking.id, Life.MET)]
    assert "lamp failed (instructor)" in said[0].sentence
    flight.until(4, 60)
    assert len(told(flight.entries)) == 1


@pytest.mark.parametrize(("name", "reason"), [(BEACON_ON.id, "  "), ("flow.before.becon", "why not")])
def test_refused_excuses(name: str, reason: str) -> None:
    """An excuse needs an item and a reason."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    with pytest.raises(InputFaults):
        flight.core.excuse(name, "instructor", reason)


def test_another_item_asked_for() -> None:
    """A condition that asks whether another item is met follows it."""
    asking = item("asking", c.All((c.ItemMet(BEACON_ON.id, "beacon"), c.ItemMet(PAPERS.id, "papers"))))
    flight = Flight(Rules([asking, BEACON_ON, PAPERS]))
    flight.at(0, beacon="on")
    assert flight.core.items.states[asking.id].truth is False
    flight.core.confirm(PAPERS.id)
    assert flight.core.items.states[asking.id].truth is True
    flight.at(1, beacon="off")
    assert flight.core.items.states[asking.id].truth is False


def test_a_broken_condition_is_shown_with_its_fault(broken: Item) -> None:
    """The sentence of a broken item says what is wrong with it."""
    flight = Flight(Rules([broken]))
    flight.at(0)
    shown = flight.core.picture().flows[0].seats[0].items[0]
    assert "unknown name lights.becon" in shown.sentence
    assert shown.verdict is Verdict.UNKNOWN


def test_verdict_of() -> None:
    """The three truths have a word each."""
    assert [verdict_of(truth) for truth in (True, False, None)] == [
        Verdict.MET,
        Verdict.UNMET,
        Verdict.UNKNOWN,
    ]
