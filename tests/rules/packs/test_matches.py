"""Items and watches with a `*` become one for each match; who names the declared id means all of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.judge.judge import Judge
from rules.language.check import RuleMatch
from rules.language.traversal import item_ids, signal_names
from rules.packs.matches import match_id, match_label
from rules.packs.model import Pack, declared_id
from rules.signals.model import Frame, Quality, Sample
from tests.rules.judge.scripted_flight import FixedTripValues
from tests.rules.packs.sample_packs import load_faults, load_text

PACK = """\
pack: {id: small, title: Small, signals: [twin_jet, trip]}
seats: {captain: Captain, first_officer: First officer}
phases:
  preflight: {title: Preflight, code: STD}
  push_back: {title: Push back, code: PBT}
calls:
  ready: {title: ready, by: ground}
flows:
  start:
    title: Start
    phase: preflight
    captain:
      - levers: engine.*.fuel_lever is closed and lights.beacon is on
        label: Fuel lever *
        after: engine.*.start_valve is closed
      - beacon: lights.beacon is on
        follows: [levers]
      - ready: flow.levers is met and flow.levers.1 is met
checklists:
  start:
    title: Start
    read_by: captain
    lines:
      - {levers: Levers, answer: closed, items: [flow.start.levers]}
      - {windows: Windows, answer: closed, expect: cockpit.window.* is closed and door.1.left is closed}
gates:
  push_back:
    phase: push_back
    cue: call.ready happened
    entry: flight.ground_speed > 1 kt
    needs: [item flow.start.levers, item flow.start.beacon, item flow.start.ready, checklist start]
watches:
  oil:
    label: Engine * oil
    seat: captain
    applies: engine.*.n2 > 50 %
    expect: engine.*.oil_pressure > 40 psi
traces:
  start:
    title: Start
    begins: any engine.*.start_valve is open
    ends: engine.*.start_valve is closed
    signals: [engine.1.n2]
    every: 1 s
    longest: 1 min
    evidence_for: [watch.oil.2, flow.start.levers]
"""
LEVERS = ("flow.start.levers.1", "flow.start.levers.2")
WINDOWS = ("checklist.start.windows.left", "checklist.start.windows.right", "checklist.start.windows.rest")


@pytest.fixture
def pack(tmp_path: Path) -> Pack:
    """The pack above."""
    return load_text(tmp_path, PACK)


def _replaced(old: str, new: str) -> str:
    """The pack with one piece replaced."""
    assert PACK.count(old) == 1
    return PACK.replace(old, new)


def test_items(pack: Pack) -> None:
    """Each match is an item with its label; an `after` with the same `*` binds it, so the item stays whole."""
    assert pack.faults == ()
    assert list(pack.items) == [*LEVERS, "flow.start.beacon", "flow.start.ready", *WINDOWS]
    assert [pack.items[name].label for name in LEVERS] == ["Fuel lever 1", "Fuel lever 2"]
    assert [pack.items[name].label for name in WINDOWS] == ["Windows left", "Windows right", "Windows"]
    first = pack.items[LEVERS[0]]
    assert first.signals == ("engine.1.fuel_lever", "lights.beacon")
    assert first.after is not None
    assert signal_names(first.after) == ("engine.1.start_valve",)
    assert first.after_text == "engine.1.start_valve is closed"


def test_references_mean_all_matches(pack: Pack) -> None:
    """Needs, flows, lines, order, conditions and traces name every match."""
    gate, (levers, windows) = pack.gates[0], pack.checklists["start"].lines
    assert gate.needs == (*LEVERS, "flow.start.beacon", "flow.start.ready", *WINDOWS)
    assert pack.flows["start"].seats["captain"] == (*LEVERS, "flow.start.beacon", "flow.start.ready")
    assert (levers.items, windows.items) == (LEVERS, WINDOWS)
    assert pack.items["flow.start.beacon"].follows == LEVERS
    ready = pack.items["flow.start.ready"].condition
    assert ready is not None
    assert item_ids(ready) == LEVERS
    assert pack.traces[0].evidence_for == {"watch.oil.2", *LEVERS}


def test_watches(pack: Pack) -> None:
    """Each match of a watch has its own of both conditions."""
    assert [(watch.id, watch.label) for watch in pack.watches] == [
        ("watch.oil.1", "Engine 1 oil"),
        ("watch.oil.2", "Engine 2 oil"),
    ]
    for number, watch in enumerate(pack.watches, 1):
        assert watch.applies is not None
        assert signal_names(watch.applies, watch.expect) == (
            f"engine.{number}.n2",
            f"engine.{number}.oil_pressure",
        )


def test_wildcards_that_only_look_alike(tmp_path: Path) -> None:
    """A watch on tanks while pumps are on is a fault with a hint, though each condition alone is good."""
    text = _replaced("engine.*.n2 > 50 %", "fuel.pump.*.switch is on").replace(
        "engine.*.oil_pressure > 40 psi", "fuel.tank.* > 40 kg"
    )
    text = text.replace("[watch.oil.2,", "[watch.oil,")
    (fault,) = load_text(tmp_path, text).faults
    assert "fuel.tank.* (left, centre and right) is not that of fuel.pump.*.switch" in fault.what
    assert fault.hint == "write out the names of one of them, or put `any` before it"
    assert fault.place.line == text.splitlines().index("    expect: fuel.tank.* > 40 kg") + 1


NOT_ALL = "`not` with engine.*.oil_pressure can mean none or not all"


def test_not_of_a_wildcard_that_both_conditions_have(tmp_path: Path) -> None:
    """In a watch that applies to each engine for itself, `not` is about that engine."""
    text = _replaced("engine.*.oil_pressure > 40 psi", "not engine.*.oil_pressure <= 40 psi")
    text = text.replace("after: engine.*.start_valve is closed", "after: not engine.*.start_valve is open")
    pack = load_text(tmp_path, text)
    assert pack.faults == ()
    signals = [signal_names(watch.expect) for watch in pack.watches]
    assert signals == [("engine.1.oil_pressure",), ("engine.2.oil_pressure",)]


@pytest.mark.parametrize(
    "applies", ["", "    applies: any engine.*.n2 > 50 %\n", "    applies: fuel.pump.*.switch is on\n"]
)
def test_not_of_a_wildcard_of_one_condition(tmp_path: Path, applies: str) -> None:
    """Without the same `*` in the other condition, `not` with a `*` is a fault."""
    text = _replaced("    applies: engine.*.n2 > 50 %\n", applies)
    text = text.replace("engine.*.oil_pressure > 40 psi", "not engine.*.oil_pressure <= 40 psi")
    pack = load_text(tmp_path, text.replace("[watch.oil.2,", "[watch.oil,"))
    assert [fault.what for fault in pack.faults] == [NOT_ALL]
    text = text.replace("not engine.*", "not any engine.*").replace("[watch.oil.2,", "[watch.oil,")
    text = text.replace("label: Engine * oil", "label: Engine oil")
    assert load_text(tmp_path, text).faults == ()


@pytest.mark.parametrize("applies", [True, False])
def test_not_of_a_wildcard_in_an_invalid_watch(tmp_path: Path, applies: bool) -> None:
    """An entry that has another fault is checked in the same way."""
    text = _replaced("engine.*.oil_pressure > 40 psi", "not engine.*.oil_pressure <= 40 psi\n    level: loud")
    faults = load_faults(tmp_path, text if applies else text.replace("    applies: engine.*.n2 > 50 %\n", ""))
    assert any(NOT_ALL in fault for fault in faults) is not applies
    assert any("loud" in fault for fault in faults)


def test_a_fault_is_reported_once(tmp_path: Path) -> None:
    """A faulty condition makes all matches of its rule unknown, and is one fault."""
    pack = load_text(tmp_path, _replaced("engine.*.oil_pressure > 40 psi", "engine.*.oil_pressure > 40 kg"))
    assert [watch.id for watch in pack.watches] == ["watch.oil.1", "watch.oil.2"]
    assert len(pack.faults) == 1


def test_an_unknown_match_is_refused(tmp_path: Path) -> None:
    """A need names an item, or one of its matches."""
    text = _replaced("[item flow.start.levers,", "[item flow.start.levers.3,")
    (fault,) = load_faults(tmp_path, text)
    assert "unknown item flow.start.levers.3" in fault
    assert load_text(tmp_path, text.replace("levers.3", "levers.2")).gates[0].needs[0] == LEVERS[1]


def test_a_waiver_of_the_item_waives_all_matches(pack: Pack) -> None:
    """The declared id in a request means all matches, a match means itself."""
    for name, waived in (("flow.start.levers", set(LEVERS)), (LEVERS[1], {LEVERS[1]})):
        judge = Judge(pack, FixedTripValues())
        judge.judge_frame(
            Frame("t", 0.0, 0.0, 0, ("lights.beacon",), [Sample("lights.beacon", "on", Quality.FRESH, 0.0)])
        )
        judge.waive(name, "instructor", "not today")
        assert {i for i, item in judge.snapshot().items.items() if item.waiver} == waived


@pytest.mark.parametrize(
    ("rule", "declared"),
    [
        ("flow.start.levers.1", "flow.start.levers"),
        ("flow.start.levers", "flow.start.levers"),
        ("checklist.start.windows.rest", "checklist.start.windows"),
        ("watch.oil.2", "watch.oil"),
        ("watch.oil", "watch.oil"),
    ],
)
def test_declared_id(rule: str, declared: str) -> None:
    """The id in the pack follows from the id of a match."""
    assert declared_id(rule) == declared
    word = rule.removeprefix(declared).removeprefix(".")
    assert match_id(declared, word) == rule


@pytest.mark.parametrize(
    ("label", "word", "text"),
    [
        ("Engine * oil", "1", "Engine 1 oil"),
        ("Fuel pumps", "left_aft", "Fuel pumps left aft"),
        ("* gear down", "nose", "Nose gear down"),
        ("Doors *", "rest", "Doors"),
        ("Doors", "rest", "Doors"),
        ("Beacon", "", "Beacon"),
    ],
)
def test_label(label: str, word: str, text: str) -> None:
    """The match is put where the label has its `*`, otherwise after it."""
    match = RuleMatch("rest", is_rest=True) if word == "rest" else RuleMatch(word)
    assert match_label(label, match) == text


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("expect: engine.*.oil_pressure > 40 psi", "expect: any engine.*.oil_pressure > 40 psi", "this `*` stands for nothing"),
        ("label: Engine * oil", "label: Fuel {fuel.total}", "'Fuel {fuel.total}' is shown as it is written, expected a text without braces"),
        ("label: Fuel lever *", "label: Fuel { lever", "'Fuel { lever' is shown as it is written, expected a text without braces"),
        ("levers: Levers", 'levers: "Lever *"', "'Lever *' is shown as it is written, expected a text without `*`"),
        ("levers: Levers", 'levers: "Fuel {fuel.total}"', "'Fuel {fuel.total}' is shown as it is written, expected a text without braces"),
        ("engine.*.fuel_lever is closed and lights.beacon is on", "engine.*.fuel_lever is closed and cockpit.window.* is closed",
         "the rule has several `*`, (1 and 2) and (left and right), expected one `*` where a text names it"),
        ("{title: Preflight, code: STD}", '{title: "Pre*flight", code: STD}', "'Pre*flight' is shown as it is written"),
        ("{title: ready, by: ground}", '{title: "ready {x}", by: ground}', "'ready {x}' is shown as it is written"),
    ],
)  # fmt: skip
def test_a_label_shows_what_it_says(tmp_path: Path, old: str, new: str, fault: str) -> None:
    """A `*` in a label is the match of the rule's one `*`; braces, and a `*` in any other text, are refused."""
    text = _replaced(old, new).replace("        after: engine.*.start_valve is closed\n", "")
    if "applies" in text and "any engine" in new:
        text = text.replace("    applies: engine.*.n2 > 50 %\n", "")
    assert any(fault in one for one in load_faults(tmp_path, text))


def test_a_fault_in_a_condition_is_no_fault_of_its_label(tmp_path: Path) -> None:
    """The matches of a faulty condition are not known, so the pack still loads."""
    pack = load_text(
        tmp_path,
        _replaced("engine.*.oil_pressure > 40 psi", "engine.*.oil_presure > 40 psi").replace(
            "oil.2,", "oil,"
        ),
    )
    assert [fault.what for fault in pack.faults] == ["no name fits engine.*.oil_presure"]


def test_a_match_may_be_called_rest(tmp_path: Path) -> None:
    """The part without a `*` has an id and a label that no match has."""
    signals = """
signals:
  52:
    title: Doors
    signals:
      hatch.{rest,bow}: {switch: [open, closed], label: "{} hatch", means: Hatch}
"""
    text = (
        _replaced("cockpit.window.* is closed and door.1.left", "hatch.* is closed and door.1.left") + signals
    )
    pack = load_text(tmp_path, text)
    windows = {name.rpartition(".")[2]: item for name, item in pack.items.items() if "windows" in name}
    assert {word: (item.label, item.signals) for word, item in windows.items()} == {
        "rest": ("Windows rest", ("hatch.rest",)),
        "bow": ("Windows bow", ("hatch.bow",)),
        "rest_": ("Windows", ("door.1.left",)),
    }
