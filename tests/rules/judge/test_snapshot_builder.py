"""The snapshot that is built step by step equals one that is built from scratch."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.judge.events import Verdict
from rules.judge.judge import Judge
from rules.judge.snapshot import Snapshot
from rules.judge.snapshot_builder import OutdatedSnapshotError, SnapshotBuilder
from rules.language import checked_tree as c
from rules.language.online import Monitors
from rules.packs.model import Checklist, Pack
from rules.signals.model import Frame, Value
from tests.rules.judge.batch.compare_batch import JudgeInput, RequestInput, TickInput
from tests.rules.judge.batch.test_random_packs import inputs, packs
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    HEADING,
    PROBE,
    PUMP,
    FixedTripValues,
    PackBuilder,
    ScriptedFlight,
    above,
    called,
    checklist_line,
    item,
    on,
    push,
    replace,
)

BEACON_ON, PUMP_ON, HIGH = (
    item("beacon", on(BEACON)),
    item("pump", on(PUMP)),
    item("high", above(HEADING, 300)),
)


def from_scratch(judge: Judge) -> Snapshot:
    """Build the present snapshot without the last one."""
    return SnapshotBuilder(judge._stepper).snapshot()


def differences(judge: Judge) -> list[str]:
    """Name the fields in which the snapshot differs from one that is built from scratch."""
    step_by_step, fresh = judge.snapshot(), from_scratch(judge)
    return [
        one.name for one in fields(Snapshot) if getattr(step_by_step, one.name) != getattr(fresh, one.name)
    ]


def read_words(judge: Judge, names: Iterable[str]) -> None:
    """Read the words of some items, which are those of a snapshot that is built from scratch."""
    current, fresh = judge.current_snapshot(), from_scratch(judge)
    for name in names:
        assert current.items[name].words == fresh.items[name].words
        assert current.items[name].sentence == fresh.items[name].sentence


def apply(judge: Judge, went: JudgeInput) -> None:
    """Give one input to a judge."""
    if isinstance(went, Frame):
        judge.judge_frame(went)
    elif isinstance(went, TickInput):
        if judge.expiry_due(went.recv_s):
            judge.tick(went.recv_s)
    elif isinstance(went, RequestInput):
        went.apply(judge)


@settings(max_examples=150, deadline=None)
@given(packs(), inputs(), st.booleans(), st.data())
def test_step_by_step_equals_from_scratch(
    pack: Pack, went: list[JudgeInput], calls_entered: bool, data: st.DataObject
) -> None:
    """After any steps, with or without snapshots between them, for packs with random rules."""
    names = tuple(pack.items)
    lines = tuple(checklist_line("line", "{x} and {a}", name) for name in names)
    listed = replace(pack, checklists={"list": Checklist("list", "List", "captain", lines)})
    judge = Judge(listed, FixedTripValues(), calls_entered=calls_entered)
    assert differences(judge) == []
    for one in went:
        apply(judge, one)
        match data.draw(st.sampled_from(("all", "some", "none", "nothing"))):
            case "all":
                assert differences(judge) == []
            case "some":
                read_words(judge, data.draw(st.sets(st.sampled_from(names))))
            case "none":
                read_words(judge, ())
    assert differences(judge) == []


def flight() -> ScriptedFlight:
    """Three items of a gate and a checklist with a signal in its answer, before a change."""
    made = ScriptedFlight(
        PackBuilder(
            [BEACON_ON, PUMP_ON, HIGH],
            gates=[push([BEACON_ON.id, PUMP_ON.id, HIGH.id])],
            checklists=[
                Checklist("list", "List", "captain", (checklist_line("Speed", "{speed}", BEACON_ON.id),))
            ],
        )
    )
    made.send_frame(0, pump="on")
    return made


def test_without_a_step_it_is_the_same_object() -> None:
    """Panels that ask one after the other get one snapshot."""
    judge = flight().judge
    assert judge.snapshot() is judge.snapshot()


def test_only_what_changed_is_made_again() -> None:
    """A signal that one open item reads makes that item and its gate again, and nothing else."""
    made = flight()
    before = made.judge.snapshot()
    made.send_frame(1, heading=20.0)
    after = made.judge.snapshot()
    assert after.items[HIGH.id].sentence != before.items[HIGH.id].sentence
    assert after.items[BEACON_ON.id] is before.items[BEACON_ON.id]
    assert after.items[PUMP_ON.id] is before.items[PUMP_ON.id]
    assert after.gates["push"] is not before.gates["push"]
    assert after.checklists is before.checklists
    assert after.watches is before.watches


@pytest.mark.parametrize("change", [{"speed": 140.0}, {"beacon": "on"}])
def test_a_checklist_follows_its_items_and_answers(change: dict[str, Value]) -> None:
    """A checklist is made again for a signal in an answer and for an item that it reads."""
    made = flight()
    before = made.judge.snapshot()
    made.send_frame(1, (), **change)
    after = made.judge.snapshot()
    assert after.checklists["list"] != before.checklists["list"]
    assert after == from_scratch(made.judge)


def test_a_signal_of_a_satisfied_item_costs_nothing() -> None:
    """An item that is met stays the same object while its signals move."""
    made = flight()
    made.send_frame(1, heading=310.0)
    before = made.judge.snapshot()
    made.send_frame(2, heading=320.0)
    after = made.judge.snapshot()
    assert after.items is before.items
    assert after.gates is before.gates


def test_words_that_nobody_reads_are_not_composed() -> None:
    """Items whose signals move are not explained until somebody reads why they are open; then with the present values."""
    made = flight()
    for second in range(1, 5):
        made.send_frame(second, heading=20.0 + second)
        item = made.judge.current_snapshot().items[HIGH.id]
        assert not item.words.composed
    assert item.sentence == from_scratch(made.judge).items[HIGH.id].sentence
    made.send_frame(5, heading=100.0)
    again = made.judge.current_snapshot().items[HIGH.id]
    assert again.sentence == from_scratch(made.judge).items[HIGH.id].sentence != item.sentence
    made.send_frame(6, heading=120.0)
    assert made.judge.current_snapshot().items[HIGH.id].words.composed
    made.send_frame(7, heading=140.0)
    assert not made.judge.current_snapshot().items[HIGH.id].words.composed


def test_words_cannot_be_read_after_the_next_step() -> None:
    """Words that were not read in time raise an error; those that were read stay, and so do all of a whole snapshot."""
    made = flight()
    current = made.judge.current_snapshot()
    read = current.items[BEACON_ON.id].sentence
    made.send_frame(1, heading=20.0)
    assert current.items[BEACON_ON.id].sentence == read
    with pytest.raises(OutdatedSnapshotError, match="next step"):
        _ = current.items[HIGH.id].sentence
    kept = made.judge.snapshot()
    before = kept.items[HIGH.id].sentence
    for second in range(2, 6):
        made.send_frame(second, heading=20.0 * second)
        made.judge.current_snapshot()
    assert kept.items[HIGH.id].sentence == before


def test_an_error_while_a_snapshot_is_built_leaves_no_old_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """After an error the next snapshot is the present one."""
    made = flight()
    made.judge.snapshot()
    made.send_frame(1, heading=20.0)
    with monkeypatch.context() as broken:
        broken.setattr(Monitors, "explain", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            made.judge.snapshot()
    assert differences(made.judge) == []


def test_a_call_changes_the_sentence_of_an_unknown_item() -> None:
    """The first call of any kind says that calls are entered: the item stays unknown, for another reason."""
    either = item("either", c.Or((called("ready"), on(PROBE))))
    start = {name: value for name, value in AT_REST.items() if name != "probe"}
    made = ScriptedFlight(PackBuilder([either], gates=[push([])]), start=start, calls_entered=False)
    made.send_frame(0)
    before = made.judge.snapshot().items[either.id]
    made.call("stop")
    after = made.judge.snapshot().items[either.id]
    assert (before.verdict, after.verdict) == (Verdict.UNKNOWN, Verdict.UNKNOWN)
    assert before.sentence != after.sentence
    assert made.judge.snapshot() == from_scratch(made.judge)
