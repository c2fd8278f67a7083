"""Checks that no sentence in an emergency asks for the wrong thing, whichever rule it comes from.

An escape from a stall or from terrain, probes that ice up, and the time after the touchdown are laid over a clean flight
at many moments.  All sentences that the crew hears then are looked through: none asks for less thrust in an escape, for a
slower aeroplane with iced probes, for more thrust after the touchdown.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from typing import Any

import pytest

from rules.judge.events import Notice
from tests.accidents.accident_case import Case, Overlay
from tests.accidents.branch_runner import judge
from tests.accidents.clean_flight import record

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="branches of a flight are child processes: POSIX only"
)

LIMIT = r"needs (?:at most|less than|other than)|: limit|maximum|too fast|too much"
LESS_THRUST = re.compile(rf"\b(?:N1|N2|EGT|thrust|lever)\b[^.;]*(?:{LIMIT})", re.IGNORECASE)
SLOWER = re.compile(
    rf"(?:airspeed|\bMach\b|\bkt\b|overspeed)[^.;]*(?:{LIMIT})|overspeed warning", re.IGNORECASE
)
MORE_THRUST = re.compile(
    r"\b(?:N1|N2|thrust)\b[^.;]*(?:needs (?:at least|more than)|minimum|at idle|too low)|go around",
    re.IGNORECASE,
)
AIRSPEEDS = ("captain", "first_officer", "standby")
ALL_THRUST = {
    **{f"engine.{k}.thrust_lever": 100.0 for k in "12"},
    **{f"engine.{k}.n1": 104.8 for k in "12"},
    **{f"engine.{k}.n2": 105.6 for k in "12"},
    **{f"engine.{k}.egt": 926.0 for k in "12"},
    "autoflight.thrust_mode": "off",
    "flight.pitch": 18.0,
}
TOO_FAST = {f"airspeed.{side}": 392.0 for side in AIRSPEEDS} | {"flight.airspeed": 392.0, "flight.mach": 0.89}
IN_FLIGHT = (
    "entry climb + 15 s",
    "entry high_climb + 40 s",
    "entry cruise + 20 s",
    "entry descent + 60 s",
    "cue approach + 30 s",
    "entry final + 4 s",
    "entry short_final + 2 s",
)


def case(name: str, begins: str, *layers: Mapping[str, Any], lasts_s: int = 70) -> Case:
    """A case that is overlaid from a moment on and judged for a while."""
    kind, event, *later = begins.split()
    begin_s = int(later[1]) if later else 0
    until = f"{kind} {event} + {begin_s + lasts_s} s"
    overlays = [
        {"begins": f"{kind} {event} + {begin_s + layer.get('after_s', 0)} s"} | dict(layer)
        for layer in layers
    ]
    for overlay in overlays:
        overlay.pop("after_s", None)
    return Case.model_validate(
        {"id": f"{name} {begins}", "title": name, "layers": overlays, "until": until, "finds": {}}
    )


def alert_on(name: str) -> dict[str, Any]:
    """Layer of an alert."""
    return {"put": {f"alert.{name}": "on", "alert.master_warning": "on"}}


ESCAPES = [
    case(f"escape from {alert}", begins, alert_on(alert), {"after_s": 3, "put": ALL_THRUST}, lasts_s=lasts_s)
    for alert in ("terrain", "stall")
    for begins, lasts_s in {**dict.fromkeys(IN_FLIGHT, 70), IN_FLIGHT[-1]: 25}.items()
]
ICED = [
    case("iced probes", begins, {"ramp": TOO_FAST, "ramp_s": 40}, {"after_s": 30, **alert_on("overspeed")})
    for begins in IN_FLIGHT[:6]
]
TOUCHDOWN = [
    case(
        f"after the touchdown, mode {mode}",
        "entry landing + 1 s",
        {"put": {"autoflight.vertical_mode": mode, "engine.1.n1": 22.0, "engine.2.n1": 21.0}},
        lasts_s=40,
    )
    for mode in ("off", "go_around", "glide_path")
]
CONTROLS = [
    case("all thrust without an escape", IN_FLIGHT[1], {"put": ALL_THRUST}),
    case("really too fast", IN_FLIGHT[1], {"put": TOO_FAST, "plus": {"flight.ground_speed": 150.0}}),
    case(
        "idle before the touchdown", "entry final + 4 s", {"put": {"engine.1.n1": 22.0, "engine.2.n1": 21.0}}
    ),
]


@pytest.fixture(scope="module")
def heard() -> Mapping[str, list[str]]:
    """Sentences of each case."""
    cases = [*ESCAPES, *ICED, *TOUCHDOWN, *CONTROLS]
    outcomes = judge(record("sector"), cases).outcomes
    return {one.id: [sentence(notice) for notice in outcomes[one.id].notices] for one in cases}


def sentence(notice: Notice) -> str:
    """The whole sentence."""
    return notice.sentence


def asked(sentences: list[str], pattern: re.Pattern[str]) -> list[str]:
    """Sentences that ask for something."""
    return [each for each in sentences if pattern.search(each)]


def test_an_emergency_is_laid_over_by_put_and_ramp_alone() -> None:
    """The layers are what they are meant to be: a later one does not hide an earlier one."""
    assert all(isinstance(layer, Overlay) for one in (*ESCAPES, *ICED) for layer in one.layers)
    assert len({one.id for one in (*ESCAPES, *ICED, *TOUCHDOWN)}) == len(ESCAPES) + len(ICED) + len(TOUCHDOWN)


@pytest.mark.parametrize("one", ESCAPES, ids=lambda one: one.id)
def test_no_sentence_asks_for_less_thrust_in_an_escape(heard: Mapping[str, list[str]], one: Case) -> None:
    """All the thrust there is comes first; the alert itself has a sentence."""
    assert any("terrain" in each.lower() or "stall" in each.lower() for each in heard[one.id]), heard[one.id]
    assert asked(heard[one.id], LESS_THRUST) == []


@pytest.mark.parametrize("one", ICED, ids=lambda one: one.id)
def test_no_sentence_asks_for_a_slower_aeroplane_with_iced_probes(
    heard: Mapping[str, list[str]], one: Case
) -> None:
    """A sentence gives the doubt in the airspeeds; nothing is compared with them."""
    assert any("cannot be believed" in each for each in heard[one.id]), heard[one.id]
    assert asked(heard[one.id], SLOWER) == []


@pytest.mark.parametrize("one", TOUCHDOWN, ids=lambda one: one.id)
def test_no_sentence_asks_for_more_thrust_after_the_touchdown(
    heard: Mapping[str, list[str]], one: Case
) -> None:
    """Idle is right on the runway, whatever the modes say."""
    assert asked(heard[one.id], MORE_THRUST) == []


def test_outside_of_the_emergency_the_sentences_exist(heard: Mapping[str, list[str]]) -> None:
    """The sentences that are looked for exist: with no escape, with a real overspeed, before the touchdown."""
    thrust, speed, idle = (heard[one.id] for one in CONTROLS)
    assert len(asked(thrust, LESS_THRUST)) > 2
    assert asked(speed, SLOWER)
    assert asked(idle, MORE_THRUST)
