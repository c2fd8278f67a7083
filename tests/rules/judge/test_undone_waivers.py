"""Random flights with a waiver that is undone: afterwards all is as if it had not been."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.judge.events import (
    FindingOpened,
    Verdict,
)
from rules.judge.snapshot import ItemSnapshot
from tests.rules.judge.scripted_flight import (
    ScriptedFlight,
    replace,
)
from tests.rules.judge.test_properties import STEPS, rules
from tests.rules.judge.test_waivers import BEACON_ON, ORDER, flown, undo, waive

NAMES = st.sampled_from(list(rules().pack().items))


def _fly(
    steps: list[tuple[float, dict[str, Any], str]], requests: dict[int, tuple[str, str]]
) -> ScriptedFlight:
    """Fly these steps, with a request before some of them."""
    flight = ScriptedFlight(rules())
    for number, (dt_s, values, what) in enumerate([(0.0, {}, ""), *steps]):
        if number in requests:
            verb, name = requests[number]
            (waive if verb == "waive" else undo)(flight, name)
        if what == "!reset":
            flight.reset_clock(dt_s, **values)
        elif what == "!gap":
            flight.send_after_silence(flight.judge.sim_s + dt_s, flight.judge.snapshot().recv_s + 30.0)
        else:
            flight.send_frame(flight.judge.sim_s + dt_s, [what] if what else [], **values)
    return flight


def _without_finding(item: ItemSnapshot) -> ItemSnapshot:
    return replace(item, finding_open=False)


@settings(max_examples=80, deadline=None)
@given(STEPS, NAMES, st.integers(0, 30), st.integers(0, 30))
def test_after_a_waiver_the_item_is_as_if_it_had_not_been(
    steps: list[tuple[float, dict[str, Any], str]], name: str, first: int, last: int
) -> None:
    """Status, times and reason of every item are those of the same flight without the waiver."""
    first, last = sorted((min(first, len(steps)), min(last, len(steps))))
    plain, waived = _fly(steps, {}), _fly(steps, {first: ("waive", name)} if first < last else {})
    if first < last:
        undo(waived, name)
    items = [_without_finding(one) for one in plain.judge.explained_snapshot().items.values()]
    assert [_without_finding(one) for one in waived.judge.explained_snapshot().items.values()] == items


@settings(max_examples=80, deadline=None)
@given(STEPS, NAMES)
def test_a_waiver_undone_at_once_leaves_the_same_errors_open(
    steps: list[tuple[float, dict[str, Any], str]], name: str
) -> None:
    """Some time after a waiver that was undone at once, the same errors are open as without it."""
    plain, waived = _fly(steps, {}), _fly(steps, {})
    waive(waived, name)
    undo(waived, name)
    for flight in (plain, waived):
        flight.send_frames(int(flight.judge.sim_s) + 1, int(flight.judge.sim_s) + 15)
    assert _open_errors(waived) == _open_errors(plain)
    numbers = [e.finding.number for e in waived.events if isinstance(e, FindingOpened)]
    assert numbers == list(range(1, len(numbers) + 1))


def _open_errors(flight: ScriptedFlight) -> set[tuple[str, bool]]:
    """Items that are known to be unmet, or done against the order, with an open finding."""
    items = flight.judge.snapshot().items
    return {
        (finding.item, finding.kind in ORDER)
        for finding in flight.judge.snapshot().open_findings
        if finding.item in items and items[finding.item].verdict is not Verdict.UNKNOWN
    }


def test_an_undone_call_does_not_reopen_what_a_waiver_closed() -> None:
    """A finding that a waiver closed stays closed, also where the call before it is undone."""
    flight = flown(BEACON_ON, cued_s=None)
    flight.send_frame(1, ["ready"])
    flight.send_frame(3)
    flight.send_frame(4, ["ground_clear"])
    waive(flight)
    undo(flight)
    flight.events += flight.judge.undo_call("ground_clear")
    assert [finding.closed_s for finding in flight.judge.findings] == [4]
    flight.send_frame(6)
    assert [finding.closed_s for finding in flight.judge.findings] == [4, None]
