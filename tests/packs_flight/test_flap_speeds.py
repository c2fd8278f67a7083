"""The twin jet's flap speed limits: one rule, broken just below and just above each setting."""

from __future__ import annotations

from itertools import pairwise

import pytest

from rules.judge.events import Finding, FindingChanged, FindingOpened
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Frame, Quality, Sample, Value
from tests.shipped import shipped_pack

SETTINGS = {4: 235.0, 8: 225.0, 12: 215.0, 20: 200.0, 28: 180.0, 36: 170.0}
"""Flap setting in deg and its speed limit in kt, both of the invented type."""
RUNNING = [(one, two) for one, two in pairwise((0, *SETTINGS))]


@pytest.fixture(scope="module")
def pack() -> Pack:
    """The shipped pack."""
    return shipped_pack("twin_jet")


def _findings(pack: Pack, *flown: tuple[float, float | None, float], on_ground: str = "no") -> list[Finding]:
    """Findings of the rule, each as it was last, on a flight of times in s, flap positions in deg and airspeeds in kt."""
    judge, found = Judge(pack, TripSheet("", {})), {}
    for sim_s, position, speed_kt in flown:
        values: dict[str, Value] = {
            "flight.on_ground": on_ground,
            "flight.airspeed": speed_kt,
            **({} if position is None else {"controls.flap.position": position}),
        }
        samples = [Sample(name, value, Quality.FRESH, sim_s) for name, value in values.items()]
        for event in judge.judge_frame(Frame("test", sim_s, sim_s, 0, tuple(values), samples)):
            if isinstance(event, FindingOpened | FindingChanged) and event.finding.item == "watch.flap_speed":
                found[event.finding.number] = event.finding
    return list(found.values())


def _held(pack: Pack, position: float | None, speed_kt: float, on_ground: str = "no") -> list[Finding]:
    """Findings of five seconds with the same flaps and the same speed."""
    flown = [(float(sim_s), position, speed_kt) for sim_s in range(1, 7)]
    return _findings(pack, *flown, on_ground=on_ground)


@pytest.mark.parametrize("setting", SETTINGS)
def test_each_setting_has_its_limit(pack: Pack, setting: int) -> None:
    """At the limit nothing is found; above it the sentence names setting, speed and limit."""
    limit_kt = SETTINGS[setting]
    assert _held(pack, setting, limit_kt) == []
    (finding,) = _held(pack, setting, limit_kt + 1.0)
    assert finding.kind == "limit_exceeded"
    speed = f"{limit_kt + 1:.0f} kt"
    assert finding.sentence.startswith(
        f"airspeed {speed}, needs at most {limit_kt:.0f} kt (speed limit of flaps {setting} deg"
    )
    assert finding.own_sentence == f"{speed}: limit of flaps {setting} deg is {limit_kt:.0f} kt"


@pytest.mark.parametrize(("before", "after"), RUNNING)
def test_the_lower_limit_counts_while_the_flaps_run(pack: Pack, before: int, after: int) -> None:
    """Up to half a degree beyond a setting its limit counts, from there on the lower one of the next, both ways."""
    edge = before + (0.5 if before else 0.8)
    lower_kt = SETTINGS[after]
    for position in (edge + 0.01, (before + after) / 2, after - 0.1, after + 0.1):
        assert _held(pack, position, lower_kt) == []
        (finding,) = _held(pack, position, lower_kt + 1.0)
        assert f"flaps {after} deg" in finding.sentence
    upper_kt = SETTINGS.get(before, 400.0)
    assert _held(pack, edge - 0.01, upper_kt) == []
    assert bool(_held(pack, edge - 0.01, upper_kt + 1.0)) is bool(before)


def test_only_in_the_air(pack: Pack) -> None:
    """On the ground, and with the flaps up, there is no limit."""
    assert _held(pack, 36.0, 200.0, on_ground="yes") == []
    assert _held(pack, 0.0, 330.0) == []


def test_one_finding_while_the_flaps_run_on(pack: Pack) -> None:
    """Too fast for two settings one after the other is one finding; it closes when the speed is in the limit."""
    out = [(float(n), 4.0 + 2.0 * n, 230.0) for n in range(6)]
    (finding,) = _findings(pack, *out)
    assert finding.sim_s == 3.0  # flaps 8 from 1 s on, for 2 s
    assert finding.closed_s is None
    slow = [(6.0 + n, 14.0, 199.0) for n in range(5)]
    (finding,) = _findings(pack, *out, *slow)
    assert finding.closed_s == 6.0


def test_unknown_flaps_are_no_error(pack: Pack) -> None:
    """Without a flap position nothing is found."""
    assert _held(pack, None, 300.0) == []
