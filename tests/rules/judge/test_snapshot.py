"""Snapshots of the present state, for screens and reports."""

from __future__ import annotations

import dataclasses

import pytest

from rules.faults import InputFaults
from rules.judge.events import ItemStatus, Verdict
from rules.judge.signal_text import fill_placeholders, signal_text
from rules.judge.snapshot import WatchStatus
from rules.packs.model import Checklist, Level, Watch
from rules.signals.model import Quality
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    HEADING,
    LIGHT,
    PROBE,
    PUMP,
    PackBuilder,
    ScriptedFlight,
    above,
    checklist_line,
    go,
    item,
    on,
    push,
    replace,
)

BEACON_ON, PUMP_ON, PROBE_ON = item("beacon", on(BEACON)), item("pump", on(PUMP)), item("probe", on(PROBE))
NEEDS = [BEACON_ON.id, PUMP_ON.id, PROBE_ON.id]


def scripted_flight() -> ScriptedFlight:
    """Beacon off, pump on, probe never sent; one checklist, one watch, two gates."""
    flight = ScriptedFlight(
        PackBuilder(
            [BEACON_ON, PUMP_ON, PROBE_ON],
            gates=[push(NEEDS), replace(go([BEACON_ON.id]), leaves=("pushing",))],
            watches=[Watch("w", "Beacon", "captain", Level.CAUTION, above(HEADING, 10), on(BEACON))],
            checklists=[
                Checklist(
                    "list",
                    "List",
                    "captain",
                    (checklist_line("Speed", "{speed}, beacon {beacon}, {probe}", BEACON_ON.id),),
                )
            ],
        ),
        start={k: v for k, v in AT_REST.items() if k != "probe"},
    )
    flight.send_frame(0, pump="on")
    flight.send_frame(5)
    return flight


def test_gates_in_play_with_their_items() -> None:
    """A snapshot has the active gates: cue, open items with their times, and counts."""
    picture = scripted_flight().judge.snapshot()
    assert (picture.phase, picture.phase_title, picture.sim_s) == ("stand", "At the stand", 5)
    assert [gate.id for gate in picture.gates.values() if gate.active] == ["push"]
    gate = picture.gates["push"]
    waived, no_data = len(gate.waived_items), len(gate.no_data_items)
    assert (gate.id, gate.cued, gate.counts.open, len(gate.met_items), no_data, waived) == (
        "push",
        False,
        1,
        1,
        1,
        0,
    )
    shown = gate.open_items[0]
    assert (shown.id, shown.status, shown.verdict, shown.seat) == (
        BEACON_ON.id,
        ItemStatus.OPEN,
        Verdict.UNMET,
        "captain",
    )
    assert (shown.since_s, shown.last_met_s, shown.finding_open) == (0, None, False)
    assert (shown.sentence, shown.actual, shown.wanted) == ("beacon is off", "off", "on")
    assert gate.no_data_items[0].id == PROBE_ON.id


def test_cued_and_found() -> None:
    """After the cue the gate is cued, and the item has a finding."""
    flight = scripted_flight()
    flight.send_frame(6, ["ready"])
    flight.send_frame(7)
    gate = flight.judge.snapshot().gates["push"]
    assert (gate.cued_s, gate.open_items[0].finding_open) == (6, True)
    assert [f.number for f in flight.judge.snapshot().findings] == [1]


def test_items_by_their_ids() -> None:
    """Every item is listed with its status, in the pack's order."""
    items = scripted_flight().judge.snapshot().items
    assert {name: item.status for name, item in items.items()} == dict(
        zip(NEEDS, [ItemStatus.OPEN, ItemStatus.MET, ItemStatus.NO_DATA], strict=True)
    )
    assert list(items) == NEEDS


def test_a_satisfied_item_has_a_sentence_only_where_it_is_asked_for() -> None:
    """Screens show no reason for what is met; a report may ask for it."""
    judge = scripted_flight().judge
    assert judge.snapshot().items[PUMP_ON.id].sentence == ""
    shown = judge.explained_snapshot().items[PUMP_ON.id]
    assert (shown.sentence, shown.actual, shown.wanted) == ("pump is on", "on", "on")


def test_samples_and_ages_of_signals() -> None:
    """The samples are those of the state; a signal that was never sent is absent and has no age."""
    picture = scripted_flight().judge.snapshot()
    assert picture.sample("pump").value == "on"
    assert (picture.sample("probe").quality, picture.age_s("probe", 9.0)) == (Quality.ABSENT, None)
    assert (picture.age_s("pump", 7.5), picture.age_s("pump", 1.0)) == (2.5, 0.0)


def test_calls_in_effect() -> None:
    """A call is in effect from its entry until it is undone."""
    judge = scripted_flight().judge
    judge.enter_call("cleared")
    assert judge.snapshot().calls == {"cleared"}
    judge.undo_call("cleared")
    assert judge.snapshot().calls == frozenset()


def test_checklist_answers_are_filled_in() -> None:
    """An answer's placeholders hold the present values; missing ones are marked."""
    flight = scripted_flight()
    flight.send_frame(6, speed=140.26)
    answer = flight.judge.snapshot().checklists["list"].lines[0]
    assert answer.answer == "140 kt, beacon off, (no data)"
    assert [item.id for item in answer.items] == [BEACON_ON.id]


def test_say_signal_by_quality() -> None:
    """Stale and invalid values are not read out as if they were good."""
    flight = scripted_flight()
    state = flight.judge._stepper.context.state
    assert signal_text(state, "nonsense") == "(no data)"
    flight.send_frame(6, speed=1e9)
    assert fill_placeholders("{ speed }", state) == "(not valid)"
    flight.judge.tick(100.0)
    assert signal_text(state, "beacon") == "(out of date)"


def test_a_placeholder_of_several_signals_reads_equal_values_once() -> None:
    """Where all signals of a placeholder agree, their value is read once; otherwise each different value."""
    flight = scripted_flight()
    state = flight.judge._stepper.context.state
    shown = {"*": ("pump", "beacon"), "same": ("pump", "pump")}
    words = {name: signal_text(state, name) for name in ("pump", "beacon")}
    assert fill_placeholders("{same}", state, shown) == words["pump"] == "on"
    assert fill_placeholders("now {*}", state, shown) == f"now on and {words['beacon']}"


def test_watches() -> None:
    """A watch is listed with its status."""
    flight = scripted_flight()
    watch = flight.judge.snapshot().watches["w"]
    assert (watch.status, watch.sentence) == (WatchStatus.NOT_APPLICABLE, "")
    flight.send_frame(6, heading=20.0)
    watch = flight.judge.snapshot().watches["w"]
    assert (watch.status, watch.since_s, watch.finding_open) == (WatchStatus.VIOLATED, 6, True)
    assert watch.sentence == "beacon is off"


def test_a_snapshot_does_not_change() -> None:
    """A snapshot is frozen, and stays the same when the judge continues."""
    flight = scripted_flight()
    picture = flight.judge.snapshot()
    flight.send_frame(6, beacon="on")
    assert picture.gates["push"].counts.open == 1
    assert flight.judge.snapshot().gates["push"].counts.open == 0
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(picture, "phase", "other")  # noqa: B010 - mypy knows that it cannot be done; the point is to try


def test_judge_one_gate() -> None:
    """One gate can be judged by name, also one that is not active."""
    flight = scripted_flight()
    assert [i.id for i in flight.judge.snapshot().gate("go").open_items] == [BEACON_ON.id]
    flight.send_frame(6, beacon="on")
    assert flight.judge.snapshot().gate("go").counts.open == 0


def test_judge_an_unknown_gate() -> None:
    """A gate that the pack does not have is a fault with a hint."""
    with pytest.raises(InputFaults, match="did you mean push"):
        scripted_flight().judge.snapshot().gate("pusch")


def test_open_findings_besides_the_gates_shown() -> None:
    """What an earlier gate found open, and what a watch found, is listed beside the needs of the gates shown."""
    watch = Watch("w", "Light", "captain", Level.CAUTION, None, on(LIGHT))
    names = [BEACON_ON.id]
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push(names), go([])], watches=[watch]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(3, speed=3.0)
    picture = flight.judge.snapshot()
    assert [f.item for f in picture.findings_besides(["go"])] == ["w", BEACON_ON.id]
    assert [f.item for f in picture.findings_besides(["push"])] == ["w"]
    assert picture.gates["go"].other_findings == 2
    assert [picture.sentence_of(f) for f in picture.open_findings] == [
        "light is off",
        "beacon is off",
    ]
    flight.send_frame(5, beacon="on", light="on")
    flight.send_frame(9)
    assert flight.judge.snapshot().open_findings == ()
    assert flight.judge.snapshot().gates["go"].other_findings == 0
