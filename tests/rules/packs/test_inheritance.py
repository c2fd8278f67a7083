"""A pack that extends another: an operator changes a few parts of a base."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.faults import InputFaults
from rules.packs.load_pack import load_pack
from rules.packs.model import Level, Pack, declared_id
from tests.rules.packs.sample_packs import COMPLETE_PACK, DATA, fault_text


@pytest.fixture(scope="module")
def operator() -> Pack:
    """The operator's pack in the data folder, over its base."""
    return load_pack(str(DATA / "operator"))


def _over(tmp_path: Path, text: str) -> Pack:
    """A pack over the base of the data folder."""
    head = f"pack: {{id: over, title: Over, extends: '{DATA / 'base'}'}}\n"
    (tmp_path / "over.yaml").write_text(head + text, encoding="utf-8")
    return load_pack(str(tmp_path))


def _refused(tmp_path: Path, text: str) -> list[str]:
    """Faults of a pack over the base."""
    with pytest.raises(InputFaults) as caught:
        _over(tmp_path, text)
    return [f"{Path(fault.place.file).name}:{fault_text(fault)}" for fault in caught.value.faults]


def test_lineage(operator: Pack) -> None:
    """A pack names itself first and then its bases."""
    assert (operator.id, operator.version, operator.lineage) == ("lindmere", "2.1", ("lindmere", "base"))


def test_one_key_replaced(operator: Pack) -> None:
    """A replaced level leaves the rest of the item as in the base."""
    item = operator.items["flow.before_start.beacon"]
    assert (item.level, item.label, item.why) == (Level.WARNING, "Beacon", "those outside must know")
    assert item.condition is not None


def test_the_seat_that_names_an_item_owns_it(operator: Pack) -> None:
    """An item named under another seat moves to it, at its old place among the others."""
    assert operator.items["flow.before_start.pressure.2"].seat == "captain"
    assert operator.flows["before_start"].seats == {
        "captain": (
            "flow.before_start.beacon",
            "flow.before_start.accumulator",
            "flow.before_start.pressure.1",
            "flow.before_start.pressure.2",
            "flow.before_start.documents",
            "flow.before_start.torch",
        )
    }


def test_condition_and_confirm_replace_each_other(operator: Pack) -> None:
    """A condition replaces the base's confirm."""
    item = operator.items["flow.before_start.documents"]
    assert (item.confirm, item.signals) == ("", ("lights.logo",))


def test_removed_and_added(operator: Pack) -> None:
    """A removed item is gone from items and needs, an added one is in both."""
    known = [declared_id(name) for name in (*operator.items, *operator.gates[0].needs)]
    assert "flow.before_start.pumps" not in known
    assert "flow.before_start.torch" in operator.gates[0].needs
    assert operator.watches == ()


def test_an_extending_pack_changes_a_limit(operator: Pack) -> None:
    """A changed limit is used by the base's conditions, under the base's label."""
    base = load_pack(str(DATA / "base"))
    name = "flow.before_start.accumulator"
    assert "2700.0" in repr(operator.items[name].condition)
    assert "2600.0" in repr(base.items[name].condition)
    assert "least brake accumulator pressure" in repr(operator.items[name].condition)


def test_lines_are_known_by_their_key(operator: Pack) -> None:
    """A line with the base's key replaces its fields and keeps its challenge; another is put below the one that it names."""
    lines = operator.checklists["before_start"].lines
    assert [line.challenge for line in lines] == ["Beacon", "Papers", "Fuel"]
    assert lines[2].answer == "{fuel.total} on board"
    assert operator.items["checklist.before_start.papers"].confirm == "Loadsheet signed"
    assert operator.items["checklist.before_start.fuel"].level is Level.CAUTION


def test_a_phase_put_in_front(operator: Pack) -> None:
    """A new phase comes before the one that it names."""
    assert [phase.id for phase in operator.phases] == ["preflight", "push_back", "engine_start", "taxi"]


TRACE = """\
traces:
  t:
    title: T
    begins: lights.beacon is on
    ends: lights.beacon is off
    signals: [lights.beacon]
    every: 1 s
    longest: 1 min
    evidence_for: [watch.beacon_with_engines]
"""
ITEM = "flows:\n  before_start:\n    captain:\n      - beacon"


@pytest.mark.parametrize("remove", [":\n        remove: true\n", ": {remove: true}\n"])
def test_an_entry_that_the_base_needs_cannot_be_removed_alone(tmp_path: Path, remove: str) -> None:
    """A reference to a removed entry is a fault at the removal, with the place of the reference."""
    (fault,) = _refused(tmp_path, f"{ITEM}{remove}")
    what = "over.yaml:5:9: flow.before_start.beacon is removed here, and still named at "
    place = f"{DATA / 'base' / 'flows.yaml'}:35:17, expected no name that refers to it"
    assert fault == f"{what}{place} | replace the entry that names it too"


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("phases:\n  taxi: {remove: true}\n", "over.yaml:3:3: taxi is removed here, and still named at "),
        ("flows:\n  before_start: {remove: true}\n", "over.yaml:3:3: before_start is removed here, and still named at "),
        (f"watches:\n  beacon_with_engines: {{remove: true}}\n{TRACE}",
         "over.yaml:3:3: watch.beacon_with_engines is removed here, and still named at "),
    ],
)  # fmt: skip
def test_whatever_is_removed_is_named(tmp_path: Path, text: str, what: str) -> None:
    """Phases, flows and watches are removed in the same way."""
    assert any(fault.startswith(what) for fault in _refused(tmp_path, text))


def test_a_condition_that_reads_a_removed_item(tmp_path: Path) -> None:
    """The fault of the condition says that the item was removed."""
    text = f"{ITEM}: {{remove: true}}\n      - other: flow.beacon is met\n"
    text += "checklists:\n  before_start:\n    lines:\n      - beacon:\n        items: [flow.before_start.accumulator]\n"
    text += '        answer: "{gear.brake_accumulator}"\n'
    (fault,) = _over(tmp_path, text).faults
    assert fault.what == "unknown name flow.beacon"
    assert fault.hint == "the extending pack removed it: replace this condition too"


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        (
            "flows:\n  before_start:\n    captain:\n      - becon:\n        level: warning\n",
            "did you mean beacon?",
        ),
        ("flows:\n  befor_start:\n    captain:\n      - beacon:\n", "did you mean before_start?"),
        (
            "checklists:\n  before_start:\n    lines:\n      - fule:\n        level: warning\n",
            "did you mean fuel?",
        ),
        ("watches:\n  beacon_with_engine: {level: warning}\n", "did you mean beacon_with_engines?"),
        ("gates:\n  pushback: {needs: []}\n", "did you mean push_back?"),
        ("limits:\n  accumulator_lo: {value: 2700 psi}\n", "did you mean accumulator_low?"),
    ],
)
def test_a_mistyped_key_of_the_base(tmp_path: Path, text: str, hint: str) -> None:
    """A new entry in which a key is missing may be meant to change one of the base."""
    assert any(fault.endswith(f"| {hint}") for fault in _refused(tmp_path, text))


@pytest.mark.parametrize(
    ("given", "says", "source"),
    [
        ("level: warning", "beacon dark", "FAA-H-8083-3C"),
        ("expect: lights.beacon is on", "beacon dark", "FAA-H-8083-3C"),
        ("expect: lights.logo is on", "", ""),
        ("confirm: Beacon seen", "", ""),
        (
            "expect: lights.logo is on\n        say: {open: logo dark}\n        source: ours",
            "logo dark",
            "ours",
        ),
        ("say:", "", "FAA-H-8083-3C"),
    ],
)
def test_a_sentence_does_not_outlive_its_condition(
    tmp_path: Path, given: str, says: str, source: str
) -> None:
    """Another condition takes `say` and `source` of the base with it, and leaves `why` and the level."""
    base = tmp_path / "base"
    base.mkdir()
    own = "expect: lights.beacon is on\n        say: {open: beacon dark}\n        source: FAA-H-8083-3C\n        why: seen\n"
    line = f"      - new: New\n        answer: shown\n        {own}      - beacon: Beacon\n"
    text = COMPLETE_PACK.replace("      - beacon: Beacon\n", line)
    (base / "p.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "over.yaml").write_text(
        f"pack: {{id: over, title: Over, extends: base}}\nchecklists:\n  before_start:\n    lines:\n"
        f"      - new:\n        {given}\n",
        encoding="utf-8",
    )
    item = load_pack(str(tmp_path / "over.yaml")).items["checklist.before_start.new"]
    assert (item.say.open, item.source, item.why) == (says, source, "seen")


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("limits:\n  accumulator_lo: {remove: true}\n",
         "over.yaml:3:3: there is no accumulator_lo to remove | did you mean accumulator_low?"),
        ("watches:\n  beacon_with_engines: {remove: yes}\n", "over.yaml:3:33: remove can only be true, expected true"),
        ("phases:\n  line_up: {title: Line-up, code: TXI, before: taxxi}\n",
         "over.yaml:3:48: unknown phase taxxi | did you mean taxi?"),
        ("flows:\n  before_start:\n    captain:\n      - beacon:\n        level: loud\n",
         "over.yaml:6:16: 'loud', expected advisory, caution or warning"),
        ("gates:\n  push_back: {needs: [flow before_strat]}\n",
         "over.yaml:3:28: unknown flow before_strat, expected the id of a flow | did you mean before_start?"),
    ],
)  # fmt: skip
def test_mistakes_in_the_extending_pack(tmp_path: Path, text: str, fault: str) -> None:
    """A mistake in the extending pack is reported in its own file, before those of the base."""
    assert _refused(tmp_path, text)[0] == fault


def test_broken_condition_is_reported_in_its_own_file(tmp_path: Path) -> None:
    """A faulty condition is reported in the file of its pack."""
    pack = _over(tmp_path, "gates:\n  taxi: {cue: gear.parking_brak is released}\n")
    assert [Path(fault.place.file).name for fault in pack.faults] == ["over.yaml"]


def test_a_shipped_pack_can_be_extended(tmp_path: Path) -> None:
    """The name of a shipped pack is accepted in place of a path."""
    (tmp_path / "p.yaml").write_text("pack: {id: mine, title: Mine, extends: twin_jet}\n")
    pack = load_pack(str(tmp_path))
    assert pack.lineage == ("mine", "twin_jet")
    assert pack.items == load_pack("twin_jet").items


def test_no_such_base(tmp_path: Path) -> None:
    """An unknown base is reported where it is named, with a hint."""
    (tmp_path / "p.yaml").write_text("pack: {id: mine, title: Mine, extends: twin_jit}\n")
    with pytest.raises(InputFaults) as caught:
        load_pack(str(tmp_path))
    assert [fault_text(fault) for fault in caught.value.faults] == [
        "1:40: unknown pack, expected a folder, or the name of a shipped pack | did you mean twin_jet?"
    ]


def test_no_such_pack() -> None:
    """An unknown pack is reported with its name and a hint."""
    with pytest.raises(InputFaults) as caught:
        load_pack("twinjet")
    assert str(caught.value) == (
        "twinjet: unknown pack, expected a folder, or the name of a shipped pack\n    hint: did you mean twin_jet?"
    )


def test_packs_that_extend_each_other() -> None:
    """A circle of packs is refused, and the circle shown."""
    with pytest.raises(InputFaults) as caught:
        load_pack(str(DATA / "circle_a"))
    assert [fault_text(fault) for fault in caught.value.faults] == [
        "1:41: circular reference of packs: circle_a → circle_b → circle_a, expected a base pack"
    ]
