"""A line of a checklist confirms only what it judges: everything else is refused when the pack is loaded."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.faults import InputFaults
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from tests.rules.packs.sample_packs import fault_text, load_text, replace_text

LINE = """      - beacon: Beacon
        answer: "{lights.beacon}"
        items: [flow.before_start.beacon]
"""


def _pack(folder: Path, answer: str, reads: str, trip: TripSheet | None = None) -> Pack:
    """The sample pack with another second line."""
    return load_text(
        folder, replace_text(LINE, f"      - new: New\n        answer: {answer}\n        {reads}\n"), trip
    )


def _refused(folder: Path, answer: str, reads: str) -> list[str]:
    """Faults of the sample pack with another second line."""
    with pytest.raises(InputFaults) as caught:
        _pack(folder, answer, reads)
    return [fault_text(fault) for fault in caught.value.faults]


BEACON_HINT = "flow.before_start.beacon judges it: add it to items"
PUMPS_HINT = "flow.before_start.pumps judges it: add it to items"


def _unjudged(column: int, signal: str, hint: str = "") -> str:
    hint = hint or "give the line an item or expect that judges it, or leave it out of the answer"
    what = f"the answer shows {signal}, which the line does not judge"
    return f"31:{column}: {what}, expected a condition on its present value | {hint}"


@pytest.mark.parametrize(
    ("answer", "reads"),
    [
        ('"{lights.beacon}"', "items: [flow.before_start.beacon]"),
        ('"{lights.logo}"', "expect: lights.logo is on"),
        ('"{lights.logo}, {lights.beacon}"', "{items: [flow.before_start.beacon], expect: lights.logo is on}"),
        ('"{fuel.pump.*.switch}"', "items: [flow.before_start.pumps]"),
        ('"{fuel.pump.*.switch}"', "expect: flow.pumps is met"),
        ('"{lights.logo}"', "expect: if lights.beacon is on then lights.logo is on"),
        ('"{lights.logo}"', "expect: lights.logo is on for 2 s"),
        ('"{lights.logo}"', "expect: not (lights.logo is off)"),
        ('"{lights.logo}"', "expect: lights.wing is on or lights.logo is on"),
        ('"{fuel.tank.left}"', "expect: fuel.tank.right within 100 kg of fuel.tank.left"),
        ("all off", "expect: fuel.pump.*.switch is off"),
        ("full travel", "expect: controls.elevator swept -95..95 %"),
        ("given", "expect: call.push_approved happened"),
        ("on board", "confirm: Papers on board"),
        ('"{lights.beacon}"', "expect: if lights.logo is on then flow.beacon is met"),
        ('"{lights.beacon}"', "expect: flow.beacon is met for 2 s and lights.logo is on"),
        ('"{fuel.pump.left_aft.switch}"', "items: [flow.before_start.pumps.left_aft]"),
    ],
)  # fmt: skip
def test_lines_that_judge_what_they_say(tmp_path: Path, answer: str, reads: str) -> None:
    """A line whose conditions judge the present value of all that it shows is accepted, as is one that a person enters."""
    if reads.startswith("{"):
        reads = reads.strip("{}").replace(", expect", "\n        expect")
    assert _pack(tmp_path, answer, reads).faults == ()


@pytest.mark.parametrize(
    ("answer", "reads", "faults"),
    [
        ('"{lights.beacon} and {lights.logo}"', "items: [flow.before_start.beacon]", [_unjudged(39, "lights.logo")]),
        ('"{lights.beacon}"', "items: [flow.before_start.pumps]",
         [_unjudged(19, "lights.beacon", BEACON_HINT)]),
        # Only said when it applies, or remembered.
        ('"{lights.wing}"', "expect: if lights.wing is on then lights.logo is on", [_unjudged(19, "lights.wing")]),
        ('"{lights.logo}"', "expect: lights.logo became on", [_unjudged(19, "lights.logo")]),
        ('"{fuel.total}"', "expect: highest(fuel.total, 10 s) < 9000 kg", [_unjudged(19, "fuel.total")]),
        ('"{lights.logo}"', "confirm: Logo lights on", [_unjudged(19, "lights.logo")]),
        ('"{lights.landing.*}"', "expect: lights.landing.left is on", [_unjudged(19, "lights.landing.right")]),
        # Of another item, unless that must be met.
        *(('"{lights.beacon}"', f"expect: {expect}", [_unjudged(19, "lights.beacon", BEACON_HINT)]) for expect in (
            "if flow.beacon is met then lights.logo is on",
            "flow.beacon is met or lights.logo is on",
            "flow.beacon is not met",
            "not (flow.beacon is met and lights.logo is on)",
            "(flow.beacon is met) happened within the last 5 min or lights.logo is on",
            "lights.logo is on since (flow.beacon is met) became true",
            "lights.logo is on within 5 s after (flow.beacon is met) became true",
            "at least 1 of (flow.beacon is met, lights.logo is on)",
        )),
        ('"{fuel.pump.*.switch}"', "items: [flow.before_start.pumps.left_aft]", [
            _unjudged(19, f"fuel.pump.{pump}.switch", PUMPS_HINT)
            for pump in ("centre_left", "centre_right", "left_forward", "right_aft", "right_forward")]),
        ('"{trip.v1}"', "expect: lights.logo is on", [_unjudged(19, "trip.v1")]),
        ("in order", "expect: trip.v1 <= trip.vr",
         [("31:17: nothing that this line reads is sensed, called or confirmed, expected a condition on a signal or a call, "
          "or confirm | with confirm: TEXT the crew confirms the line")]),
    ],
)  # fmt: skip
def test_lines_that_say_more_than_they_judge(
    tmp_path: Path, answer: str, reads: str, faults: list[str]
) -> None:
    """A signal that is shown and not judged is refused at its place, and so is a line behind which nothing is sensed."""
    assert _refused(tmp_path, answer, reads) == faults


def test_an_item_through_others_is_judged_where_all_must_be_met(tmp_path: Path) -> None:
    """A line that reads an item that reads another vouches for the last one only where each must be met."""
    chain = replace_text(
        "    first_officer:\n",
        "      - second: flow.beacon is met JOIN lights.logo is on\n        follows: [beacon]\n    first_officer:\n",
    )
    line = '      - new: New\n        answer: "{lights.beacon}"\n        expect: flow.second is met\n'
    assert load_text(tmp_path, chain.replace("JOIN", "and").replace(LINE, line)).faults == ()
    with pytest.raises(InputFaults, match=r"shows lights\.beacon, which the line does not judge"):
        load_text(tmp_path, chain.replace("JOIN", "or").replace(LINE, line))


def test_the_hint_names_no_item_of_another_gate(tmp_path: Path) -> None:
    """An item that no gate needs beside the checklist belongs to another part of the flight."""
    text = replace_text(
        "needs: [flow before_start, checklist before_start]", "needs: [checklist before_start]"
    )
    text = text.replace(
        "watches:",
        """  again:
    phase: push_back
    cue: lights.logo is on
    entry: flight.ground_speed > 5 kt
    needs: [flow before_start]
watches:""",
    ).replace("        items: [flow.before_start.beacon]\n", "        expect: lights.logo is on\n")
    with pytest.raises(InputFaults) as caught:
        load_text(tmp_path, text)
    assert [fault.hint for fault in caught.value.faults] == [
        "give the line an item or expect that judges it, or leave it out of the answer"
    ]


def test_an_item_is_read_once(tmp_path: Path) -> None:
    """A match beside its whole item, or twice, is refused."""
    whole, match = "flow.before_start.pumps", "flow.before_start.pumps.left_aft"
    for items in (f"[{whole}, {match}]", f"[{match}, {match}]", f"[{match}, {whole}]"):
        (fault,) = _refused(tmp_path, "all on", f"items: {items}")
        assert "is named twice, expected each item once" in fault


def test_a_faulty_condition_is_reported_once(tmp_path: Path) -> None:
    """A line with a faulty condition has that fault only, and the pack loads."""
    pack = _pack(tmp_path, '"{lights.logo}"', "expect: lights.logo is onn")
    assert len(pack.faults) == 1


def test_an_answer_may_name_a_limit(tmp_path: Path) -> None:
    """A limit is filled in with its value, and needs no condition."""
    line = _pack(tmp_path, '"{lights.logo}, {limit.accumulator_low}"', "expect: lights.logo is on").checklists
    assert line["before_start"].lines[1].answer == "{lights.logo}, 2 600 psi"


def test_a_signal_that_is_inoperative_may_be_shown(tmp_path: Path) -> None:
    """What the trip sheet dispatches inoperative is left out by the `*` of the conditions, and is no fault of the answer."""
    trip = TripSheet("t", {}, inoperative=("fuel.pump.left_aft",))
    pack = _pack(tmp_path, '"{fuel.pump.left_aft.switch}"', "items: [flow.before_start.pumps]", trip)
    assert pack.faults == ()
