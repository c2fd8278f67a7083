"""Many things wrong at once when a checklist is read, and things that were never done: each line of them is not met."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from typing import NamedTuple, TypeAlias

import pytest

from rules.signals.model import Value
from tests.checklists.read_lists import JudgedState, fly
from tests.shipped import shipped

Unmet: TypeAlias = dict[str, tuple[set[str], bool]]


class Wrong(NamedTuple):
    """Values of signals that are wrong together, and the lines that must not be met with them."""

    put: Mapping[str, Value]
    lines: set[str]


WRONG = {
    # Fourteen things wrong before the start.
    "departure": Wrong(
        {
            "altimeter.first_officer.setting": 1019.0,
            "autoflight.speed": 200.0,
            "autoflight.heading": 323.0,
            "speeds.v1.captain": 118.0,
        },
        {"altimeters", "autoflight_panel", "speeds"},
    ),
    "before_start": Wrong(
        {
            "door.hold.1": "open",
            "door.overwing.2": "open",
            "cockpit.door": "unlocked",
            "cockpit.window.right": "open",
            "fuel.pump.right_forward.switch": "off",
            "fuel.pump.right_forward.low_pressure": "on",
            "gear.parking_brake": "released",
            "controls.rudder_trim": 6.0,
            "controls.aileron_trim": -3.0,
            "lights.no_smoking": "off",
        },
        {"doors", "cockpit_door", "windows", "fuel_pumps", "parking_brake", "trim", "signs"},
    ),
    "after_start": Wrong(
        {"electrical.generator.2.online": "no", "apu.switch": "on", "ice.air_data.right": "off"},
        {"generators", "apu", "air_data_heat"},
    ),
    "before_taxi": Wrong(
        {"gear.bypass_pin": "inserted", "controls.slat.position": "retracted", "display.lower": "shown"},
        {"ground_crew", "flaps", "lower_display"},
    ),
    "landing": Wrong(
        {"gear.left.locked": "no", "gear.right.locked": "no", "controls.flap.lever": 12.0},
        {"gear", "flaps"},
    ),
}


class NeverDone(NamedTuple):
    """Signals that never change up to a checklist, and the line that must not be met for it."""

    pack: str
    checklist: str
    line: str
    frozen: Mapping[str, Value]


NEVER_DONE = [
    NeverDone("twin_jet", "after_start", "stored_cautions", {"alert.stored_shown": "off"}),
    NeverDone("twin_jet", "before_taxi", "flight_controls", {"controls.elevator": 0.0}),
    NeverDone("twin_jet", "before_taxi", "flight_controls", {"controls.aileron": 0.0}),
    NeverDone("twin_jet", "before_taxi", "flight_controls", {"controls.rudder": 0.0}),
    NeverDone("trainer", "run_up", "magnetos", {"engine.1.magnetos": "both"}),
    NeverDone("trainer", "run_up", "carburettor_heat", {"ice.carburettor": 0.0}),
    NeverDone("trainer", "run_up", "suction", {"vacuum.suction": 4.2}),
    NeverDone("trainer", "run_up", "ammeter", {"electrical.ammeter": -1.0}),
    NeverDone("trainer", "before_takeoff", "flight_controls", {"controls.elevator": 0.0}),
    NeverDone("trainer", "before_takeoff", "flight_controls", {"controls.aileron": 0.0}),
    NeverDone("trainer", "before_takeoff", "flight_controls", {"controls.rudder": 0.0}),
]


def _put_wrong(unmet: Unmet, name: str, judged: JudgedState) -> None:
    if name not in WRONG:
        return
    right = {signal: judged.state[signal] for signal in WRONG[name].put}
    judged.put(WRONG[name].put)
    run = judged.read_through(shipped("twin_jet")[0], name)
    assert {line.id.split(".")[2] for line in run.open_lines()} == judged.unmet(name)
    unmet[name] = judged.unmet(name), run.complete
    judged.put(right, 4.0)


def _fly_wrong() -> Unmet:
    """Lines that are not met with everything wrong, and whether the reading is complete, by checklist."""
    unmet: Unmet = {}
    fly("twin_jet", partial(_put_wrong, unmet), until="landing")
    return unmet


def _note_unmet(unmet: dict[str, set[str]], name: str, judged: JudgedState) -> None:
    unmet[name] = judged.unmet(name)


def _fly_frozen(case: NeverDone) -> set[str]:
    """Lines that are not met at the checklist of a case."""
    unmet: dict[str, set[str]] = {}
    fly(case.pack, partial(_note_unmet, unmet), frozen=case.frozen, until=case.checklist)
    return unmet[case.checklist]


@pytest.fixture(scope="module")
def all_wrong() -> Unmet:
    """One flight, on which everything is wrong while each of these checklists is read."""
    return _fly_wrong()


@pytest.fixture(scope="module")
def never_done() -> list[set[str]]:
    """The unmet lines of each case, flown in parallel."""
    with ProcessPoolExecutor() as pool:
        return list(pool.map(_fly_frozen, NEVER_DONE))


@pytest.mark.parametrize("name", WRONG)
def test_each_wrong_thing_leaves_its_line_unmet(all_wrong: Unmet, name: str) -> None:
    """With all of them wrong, exactly their lines are not met, and the checklist is not complete."""
    assert all_wrong[name] == (WRONG[name].lines, False)


@pytest.mark.parametrize("at", range(len(NEVER_DONE)))
def test_what_was_never_done_leaves_its_line_unmet(never_done: list[set[str]], at: int) -> None:
    """A check that a line remembers, and that was never made, leaves that line unmet, and no other."""
    assert never_done[at] == {NEVER_DONE[at].line}
