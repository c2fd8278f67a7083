"""Loading a pack: the contents of a complete one, and all faults of a broken one at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.faults import InputFaults
from rules.packs.load_pack import load_pack
from rules.packs.model import FindingKind, Level, Pack, owner_title
from tests.rules.packs.sample_packs import (
    COMPLETE_PACK,
    DATA,
    fault_text,
    load_faults,
    load_text,
    replace_text,
)

PUMPS = tuple(
    f"flow.before_start.pumps.{word}"
    for word in ("left_aft", "left_forward", "right_aft", "right_forward", "centre_left", "centre_right")
)
PRESSURES = ("flow.before_start.pressure.1", "flow.before_start.pressure.2")


@pytest.fixture(scope="module")
def base() -> Pack:
    """The complete pack in the data folder."""
    return load_pack(str(DATA / "base"))


def test_head(base: Pack) -> None:
    """The head of a pack is loaded, with the disclaimer that every pack has."""
    assert (base.id, base.title, base.version) == ("base", "Halyard 220, training base", "1.0")
    assert base.lineage == ("base",)
    assert base.disclaimer.startswith("For flight simulation only.")
    assert base.faults == ()


def test_items_have_ids_of_flow_and_key(base: Pack) -> None:
    """Items must be known by flow and key, lines with an item of their own by checklist and key."""
    assert list(base.items) == [
        "flow.before_start.beacon",
        "flow.before_start.accumulator",
        *PUMPS,
        *PRESSURES,
        "flow.before_start.documents",
        "flow.after_push.tug_away",
        "checklist.before_start.fuel",
    ]


def test_an_item_has_all_values_of_the_file(base: Pack) -> None:
    """Label, seat, level, reason and times of an item are those of the file."""
    item = base.items["flow.before_start.accumulator"]
    assert (item.label, item.seat, item.level, item.hold_s) == (
        "Brake accumulator",
        "captain",
        Level.ADVISORY,
        5.0,
    )
    assert item.after is not None
    assert item.after_text == "call.ground_clear_hydraulics happened"
    assert item.signals == ("gear.brake_accumulator",)
    assert base.items["flow.before_start.beacon"].why == "those outside must know"
    assert base.items[PRESSURES[0]].label == "Pressure 1"


def test_keys_under_follows_become_full_ids(base: Pack) -> None:
    """A short key under follows must become the whole ids of all matches."""
    assert [base.items[name].follows for name in PRESSURES] == [PUMPS, PUMPS]


def test_confirm_replaces_a_condition(base: Pack) -> None:
    """An item that no signal shows has a text to confirm and no condition."""
    item = base.items["flow.before_start.documents"]
    assert (item.condition, item.confirm, item.signals) == (None, "Documents on board", ())


def test_a_line_is_owned_by_its_reader(base: Pack) -> None:
    """An item of a checklist must belong to the seat that reads it, and be labelled by its challenge."""
    item = base.items["checklist.before_start.fuel"]
    assert (item.label, item.seat, item.level) == ("Fuel", "first_officer", Level.CAUTION)


def test_lines_name_the_item_that_they_read(base: Pack) -> None:
    """A line must point at the flow's items, at its own, or at both."""
    lines = base.checklists["before_start"].lines
    assert [line.items for line in lines] == [("flow.before_start.beacon",), ("checklist.before_start.fuel",)]


def test_flows_by_seat(base: Pack) -> None:
    """A flow must list each seat's items in the order of the file."""
    assert base.flows["before_start"].seats == {
        "captain": ("flow.before_start.beacon", "flow.before_start.accumulator"),
        "first_officer": (
            *PUMPS,
            *PRESSURES,
            "flow.before_start.documents",
        ),
    }


def test_gates_are_in_the_order_of_their_phases(base: Pack) -> None:
    """Gates are sorted by phase; by default they leave every earlier phase."""
    assert [(gate.id, gate.title, gate.leaves) for gate in base.gates] == [
        ("push_back", "Push back", ("preflight",)),
        ("taxi", "Taxi", ("push_back",)),
    ]


def test_needs_are_items_each_once(base: Pack) -> None:
    """Needs must be spelled out item by item, each once, in the order asked for."""
    assert base.gates[0].needs == (
        "flow.before_start.beacon",
        "checklist.before_start.fuel",
        "flow.before_start.accumulator",
        *PUMPS,
        *PRESSURES,
        "flow.before_start.documents",
    )


def test_watches_and_quiets(base: Pack) -> None:
    """A watch and a quiet period must come through with their times, phases and levels."""
    (watch,), (quiet,) = base.watches, base.quiet_periods
    assert (watch.id, watch.finding, watch.hold_s, watch.phases) == (
        "watch.beacon_with_engines",
        FindingKind.OMITTED,
        2.0,
        ("push_back", "taxi"),
    )
    assert quiet.holds == (Level.ADVISORY, Level.CAUTION)


def test_ten_faults() -> None:
    """A pack with ten faults must give ten, each with file, line, column and hint, in the order of files and lines."""
    with pytest.raises(InputFaults) as caught:
        load_pack(str(DATA / "ten"))
    assert [f"{Path(fault.place.file).name}:{fault_text(fault)}" for fault in caught.value.faults] == [
        "a.yaml:4:39: 'STDX', expected STD, PBT, TXI, TOF, ICL, ENR, MNV, APR, LDG, EMG, UND, PIM or UNK",
        "a.yaml:7:45: unknown speaker grond | did you mean ground?",
        "a.yaml:9:22: unknown unit degX, expected a unit that Pint knows | did you mean deg?",
        "b.yaml:5:5: unknown seat capitain, expected captain | did you mean captain?",
        "b.yaml:9:15: 5 is not a time, expected a number with s or min | write 5 s",
        ("b.yaml:10:9: unknown key levle | did you mean level?"),
        "b.yaml:11:19: unknown name hydraulics.1.presure, expected a signal of the book | did you mean hydraulics.1.pressure?",
        "b.yaml:13:3: entry is missing, expected the key entry",
        "b.yaml:16:18: unknown flow befor_start, expected the id of a flow | did you mean before_start?",
        "b.yaml:16:41: unknown checklist cockpit, expected the id of a checklist",
    ]


def test_faults_are_printed_with_line_and_caret() -> None:
    """The text of the error shows each line with a caret under the fault."""
    with pytest.raises(InputFaults) as caught:
        load_pack(str(DATA / "ten"))
    printed = str(caught.value).splitlines()
    at = next(number for number, line in enumerate(printed) if "presure, expected" in line)
    assert printed[at + 1 : at + 4] == [
        "          - pressure: hydraulics.1.presure in 2800..3200 psi",
        "                      ^",
        "    hint: did you mean hydraulics.1.pressure?",
    ]


CASES = [
    ("title: Small,", "titel: Small,",
     ["1:1: title is missing, expected the key title", "1:19: unknown key titel | did you mean title?"]),
    ("id: small,", "id: Small,", ["1:12: 'Small', expected a word of small letters, digits and _"]),
    ("trip]}", "trip], version: 1.0}", ["1:69: 1.0, expected text (put it in quotes)"]),
    ("First officer}", "}", ["2:41: missing value, expected text (put it in quotes)"]),
    ("value: 2600 psi", "value: 2600 psy", ["7:28: unknown unit psy, expected a unit that Pint knows | did you mean psi?"]),
    ("value: 2600 psi", "value: much", ["7:28: 'much' is not a number with its unit, expected for example 740 degC"]),
    ("value: 2600 psi", "value: '2,6 psi'",
     [("7:28: '2,6 psi' is not a number with its unit, expected for example 740 degC | "
      "decimals have a point, thousands a space: 1.5 kg, 8 200 kg")]),
    ("    phase: preflight\n", "    phase: preflite\n", ["13:12: unknown phase preflite | did you mean preflight?"]),
    ("    captain:\n", "    captian:\n",
     ["14:5: unknown seat captian, expected captain or first_officer | did you mean captain?"]),
    ("beacon: lights.beacon is on\n        hold: 2 s", "beacon:\n        hold: 2 s",
     ["15:9: beacon has nothing to check, expected a condition, or confirm for what no signal shows"]),
    ("hold: 2 s", "confirm: Beacon on",
     ["16:9: confirm conflicts with condition, expected a condition, or confirm for what no signal shows"]),
    ("hold: 2 s", "hold: 2 kg", ["16:15: '2 kg' is not a time, expected a number with s or min"]),
    ("hold: 2 s", "hold: 2 h", ["16:15: 2 h is not a time that can be waited for, expected 0 s to 60 min"]),
    ("hold: 2 s", "hold: -1 s", ["16:15: -1 s is not a time that can be waited for, expected 0 s to 60 min"]),
    ("hold: 2 s", "level: on", ["16:16: 'on', expected advisory, caution or warning"]),
    ("hold: 2 s", "level: yes", ["16:16: 'yes', expected advisory, caution or warning"]),
    ("hold: 2 s", "hold: 1:30", ["16:15: '1:30' is not a time, expected a number with s or min"]),
    ("beacon: lights.beacon is on\n", "beacon: true\n", ["15:17: true, expected text (put it in quotes)"]),
    ("hold: 2 s", "finding: forgotten",
     [("16:18: 'forgotten', expected omitted, undone, too_early, out_of_order, wrong_value, limit_exceeded, late, "
      "not_verifiable or aeroplane_event")]),
    ("- pumps:", "- Pumps:", ["20:9: Pumps is not a valid name, expected lower-case letters, digits and _"]),
    ("follows: [beacon]", "follows: [becon]", ["21:19: unknown item becon | did you mean beacon?"]),
    ("follows: [beacon]", "follows: [flow.before_start.becon]",
     ["21:19: unknown item flow.before_start.becon | did you mean flow.before_start.beacon?"]),
    ("follows: [beacon]", "follows: [pumps]",
     ["21:18: circular order: flow.before_start.pumps follows flow.before_start.pumps, expected a first item"]),
    ("follows: [beacon]", "follows: beacon", ["21:18: 'beacon', expected a list"]),
    ("read_by: first_officer", "read_by: everybody",
     ["25:14: unknown seat everybody, expected captain, first_officer or both"]),
    ("read_by: first_officer", "read_by: both",
     ["27:9: seat is missing, expected whose item this is, since both read the list"]),
    ("        expect: fuel.total within 150 kg of trip.block_fuel\n", "",
     ["27:9: fuel has nothing to check, expected items, expect or confirm"]),
    ("items: [flow.before_start.beacon]", "items: []",
     ["30:9: beacon has nothing to check, expected items, expect or confirm"]),
    ("items: [flow.before_start.beacon]", "items: [flow.before_start.becon]",
     ["32:17: unknown item flow.before_start.becon | did you mean flow.before_start.beacon?"]),
    ("items: [flow.before_start.beacon]", "items: [flow.before_start.beacon, flow.before_start.beacon]",
     ["32:43: flow.before_start.beacon is named twice, expected each item once"]),
    ("items: [flow.before_start.beacon]", "items: flow.before_start.beacon",
     ["32:16: 'flow.before_start.beacon', expected a list"]),
    ("items: [flow.before_start.beacon]", "items: [flow.before_start.beacon]\n        level: caution",
     ["33:9: level without a condition of the line's own, expected level at the item itself"]),
    ("items: [flow.before_start.beacon]", "expect: lights.beacon is on\n        confirm: Beacon",
     ["33:9: confirm conflicts with expect, expected one of expect and confirm"]),
    ("- beacon: Beacon", "- challenge: Beacon",
     ["30:9: a line without a key of its own, expected KEY: challenge | the challenge is written after that key"]),
    ("- beacon: Beacon", "- beacon: Beacon\n        challenge: Beacon",
     ["31:9: a line without a key of its own, expected KEY: challenge | the challenge is written after that key"]),
    ("- beacon: Beacon", "- beacon: Beacon\n        item: flow.before_start.beacon",
     ["31:9: unknown key item | did you mean items?"]),
    ("- beacon: Beacon", "- beacon: Beacon\n        above: fule", ["31:16: unknown line fule | did you mean fuel?"]),
    ("- beacon: Beacon", "- beacon: Beacon\n        below: beacon",
     ["31:16: unknown line beacon, expected fuel"]),
    ("- beacon: Beacon", "- beacon: Beacon\n        above: fuel\n        below: fuel",
     ["32:9: below conflicts with above, expected one of above and below"]),
    ("    phase: push_back\n", "    phase: preflight\n",
     ["35:12: no phase comes before preflight, expected a later phase, or leaves"]),
    ("    phase: push_back\n", "    phase: push_back\n    leaves: [push_back]\n",
     ["36:14: a gate's leaves contains its own phase, expected other phases"]),
    ("    phase: push_back\n", "    phase: push_back\n    leaves: [preflihgt]\n",
     ["36:14: unknown phase preflihgt | did you mean preflight?"]),
    ("[flow before_start, checklist", "[before_start, checklist",
     ["38:13: 'before_start' is not a need, expected flow NAME, checklist NAME or item ID"]),
    ("[flow before_start, checklist", "[item flow.before_start.becon, checklist",
     ["38:18: unknown item flow.before_start.becon, expected the id of an item | did you mean flow.before_start.beacon?"]),
    ("[flow before_start, checklist before_start]", "[checklist before_start]",
     []),
    ("[flow before_start, checklist before_start]", "[item flow.before_start.pumps]",
     ["23:3: checklist before_start is not needed by any gate | put 'checklist before_start' under the needs of a gate"]),
    ("    seat: captain", "    seat: captian", ["42:11: unknown seat captian | did you mean captain?"]),
    ("holds: [advisory, caution]", "holds: [advisory, warning]",
     ["46:62: warnings are never held back together, expected advisory or caution | a warning that has to wait is named under watches"]),
    ("holds: [advisory, caution]", "holds: []", ["46:51: a list, expected at least one entry"]),
    ("pack: {id: small, title: Small, signals: [twin_jet, trip]}\n", "",
     ["0:0: no file here has the section pack, expected pack: with id and title"]),
    ("quiets:\n", "quiet:\n",
     [("45:1: unknown section quiet | did you mean quiets?")]),
    ("signals: [twin_jet, trip]", "signals: [twin_jit, trip]",
     ["1:43: no such signal book, expected one of common, piston, trip, twin_jet | did you mean twin_jet?"]),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "faults"), CASES)
def test_each_mistake_alone(tmp_path: Path, old: str, new: str, faults: list[str]) -> None:
    """One mistake in a complete pack gives exactly its own fault at its place."""
    if faults:
        assert load_faults(tmp_path, replace_text(old, new)) == faults
    else:
        assert load_text(tmp_path, replace_text(old, new)).faults == ()


def test_duplicate_names(tmp_path: Path) -> None:
    """A duplicate item in a flow is refused with both places."""
    path = tmp_path / "p.yaml"
    found = load_faults(tmp_path, replace_text("- pumps:", "- beacon:"))
    assert found == [
        f"20:9: beacon is defined twice in before_start, expected once; the first is at {path}:15:9"
    ]


def test_duplicate_names_in_two_files(tmp_path: Path) -> None:
    """A duplicate id in two files of a pack is refused with both places."""
    (tmp_path / "q.yaml").write_text("calls:\n  push_approved: {title: again, by: atc}\n")
    found = load_faults(tmp_path, COMPLETE_PACK)
    assert found == [
        f"2:3: push_approved is defined twice in calls, expected once; the first is at {tmp_path / 'p.yaml'}:9:3"
    ]


def test_two_heads(tmp_path: Path) -> None:
    """A folder with two heads is refused."""
    (tmp_path / "q.yaml").write_text("pack: {id: other, title: Other}\n")
    assert load_faults(tmp_path, COMPLETE_PACK) == [
        f"1:1: the section pack is defined twice, expected once; the first is at {tmp_path / 'p.yaml'}:1:1"
    ]


def test_a_file_that_cannot_be_read_hides_no_other(tmp_path: Path) -> None:
    """A file with broken YAML is reported together with the faults of the others."""
    (tmp_path / "a.yaml").write_text("calls:\n\tx: y\n")
    assert load_faults(tmp_path, replace_text("code: PBT", "code: PBX"))[:2] == [
        "2:1: a tab, expected spaces for indentation",
        "5:39: 'PBX', expected STD, PBT, TXI, TOF, ICL, ENR, MNV, APR, LDG, EMG, UND, PIM or UNK",
    ]


def test_a_file_with_another_ending_is_not_passed_over(tmp_path: Path) -> None:
    """A .yml file beside the others is reported, since it is ignored."""
    (tmp_path / "more.yml").write_text("calls: {}\n")
    assert load_faults(tmp_path, COMPLETE_PACK) == ["0:0: this file is ignored, expected the ending .yaml"]


def test_a_single_file_is_a_pack(tmp_path: Path) -> None:
    """A path to one file must load it as a whole pack."""
    path = tmp_path / "p.yaml"
    path.write_text(COMPLETE_PACK)
    assert load_pack(str(path)).id == "small"


def test_own_signals(tmp_path: Path) -> None:
    """A pack may add signals of its own, and use them."""
    own = "signals:\n  0:\n    title: Ours\n    signals:\n      trolley.brake: {switch: [released, set], label: trolley brake, means: Held}\n"
    pack = load_text(
        tmp_path,
        replace_text("lights.beacon is on\n        hold", "trolley.brake is set\n        hold").replace(
            "{lights.beacon}", "{trolley.brake}"
        )
        + own,
    )
    assert pack.items["flow.before_start.beacon"].signals == ("trolley.brake",)


def test_bad_own_signals(tmp_path: Path) -> None:
    """A mistake in a pack's own signal is reported at its place."""
    own = "signals:\n  0:\n    title: Ours\n    signals:\n      trolley.brake: {switch: [set], label: trolley brake, means: Held}\n"
    (fault,) = load_faults(tmp_path, COMPLETE_PACK + own)
    assert fault.startswith("51:")


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("", ["0:0: no file here has the section pack, expected pack: with id and title"]),
        ("# nothing\n", ["0:0: no file here has the section pack, expected pack: with id and title"]),
        ("pack:\n", ["0:0: no file here has the section pack, expected pack: with id and title"]),
        ("- pack\n", ["0:0: no file here has the section pack, expected pack: with id and title",
                      "1:1: sections are not a mapping, expected a mapping of names to entries"]),
        ("pack: {id: a, title: A}\n", ["1:1: this pack has no phases, expected phases: in the order of the flight"]),
    ],
)  # fmt: skip
def test_a_folder_without_a_usable_head_is_refused(tmp_path: Path, text: str, faults: list[str]) -> None:
    """A folder without a usable head is refused with a sentence."""
    assert load_faults(tmp_path, text) == faults


def test_the_shipped_pack_has_no_faults() -> None:
    """The pack that we ship must have no fault."""
    assert load_pack("twin_jet").faults == ()


def test_the_document_shows_a_pack_that_loads(tmp_path: Path) -> None:
    """The example in the document on rule packs loads without a fault."""
    document = (Path(__file__).parents[3] / "rules" / "packs" / "README.md").read_text("utf-8")
    pack = load_text(tmp_path, document.split("```yaml\n")[1].split("```")[0])
    assert pack.faults == ()
    assert pack.gates[0].leaves == ("preflight", "before_start")


def test_loading_twice_gives_the_same() -> None:
    """The same folder gives the same pack, and the same faults in the same order."""
    assert load_pack(str(DATA / "base")) == load_pack(str(DATA / "base"))
    messages = []
    for _ in range(2):
        with pytest.raises(InputFaults) as caught:
            load_pack(str(DATA / "ten"))
        messages.append(str(caught.value))
    assert messages[0] == messages[1]


@pytest.mark.parametrize(
    ("owner", "title"),
    [
        ("captain", "Commander"),
        ("ground", "Ground"),
        ("aeroplane", "Aeroplane"),
        ("atc", "ATC"),
        ("Amal", "Amal"),
        ("", ""),
    ],
)
def test_owners_have_titles(owner: str, title: str) -> None:
    """A seat has the title of its pack, others have one of their own, and a person the name."""
    assert owner_title({"captain": "Commander"}, owner) == title
