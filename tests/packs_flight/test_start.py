"""The engine start as a timed procedure: each error gives a notice with its name at once."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rules.signals.model import Value
from tests.packs_flight.recorded_sector import Change, CleanSector, JudgedFlight, State

K = "2"
"""The engine that the sheet has started first."""


def number(state: State, name: str) -> float:
    """A signal that is a number."""
    value = state[name]
    assert not isinstance(value, str)
    return value


def fed(state: State) -> bool:
    """True if the engine has fuel."""
    return state[f"engine.{K}.fuel_lever"] == "open"


def hung(_: float, state: State) -> dict[str, Value]:
    """The core stays at 42 %, and the temperature climbs."""
    n2 = number(state, f"engine.{K}.n2")
    return {f"engine.{K}.n2": 42.0, f"engine.{K}.n1": 9.0} if fed(state) and n2 > 42.0 else {}


def hot(_: float, state: State) -> dict[str, Value]:
    """The flame comes with a temperature a third too high."""
    egt = number(state, f"engine.{K}.egt")
    return {f"engine.{K}.egt": egt * 1.3} if fed(state) else {}


def no_light(_: float, state: State) -> dict[str, Value]:
    """Fuel and spark, no flame: the starter alone turns the core."""
    if not fed(state):
        return {}
    return {f"engine.{K}.egt": 10.0, f"engine.{K}.n2": min(30.0, number(state, f"engine.{K}.n2"))}


def blocked(_: float, __: State) -> dict[str, Value]:
    """The fan does not turn."""
    return {f"engine.{K}.n1": 0.0}


def dry(_: float, __: State) -> dict[str, Value]:
    """No oil pressure."""
    return {f"engine.{K}.oil_pressure": 0.0}


def stuck(_: float, state: State) -> dict[str, Value]:
    """The starter stays engaged."""
    return {f"engine.{K}.start_valve": "open"} if number(state, f"engine.{K}.n2") > 50.0 else {}


def seized(_: float, __: State) -> dict[str, Value]:
    """The valve opens and the core does not turn."""
    return {f"engine.{K}.n2": 0.0, f"engine.{K}.n1": 0.0}


def early(_: float, state: State) -> dict[str, Value]:
    """Fuel at 15 % N2."""
    return {f"engine.{K}.fuel_lever": "open"} if number(state, f"engine.{K}.n2") > 15.0 else {}


def slow(_: float, state: State) -> dict[str, Value]:
    """N2 rises slowly and does not reach idle."""
    n2 = number(state, f"engine.{K}.n2")
    return {f"engine.{K}.n2": 25.0 + (n2 - 25.0) * 0.6} if n2 > 25.0 else {}


def unwatched(_: float, __: State) -> dict[str, Value]:
    """No clock runs."""
    return {"clock.chronometer.left": "stopped", "clock.chronometer.right": "stopped"}


CASES: list[tuple[Callable[[float, State], dict[str, Value]], str, str]] = [
    (hung, f"hung_start.{K}", "Engine 2 hung start"),
    (hot, f"hot_start.{K}", "Engine 2 hot start"),
    (hot, f"hot_coming.{K}", "Engine 2 hot start coming"),
    (no_light, f"no_light.{K}", "Engine 2 no-light start"),
    (blocked, f"rotor.{K}", "Engine 2 no-N1 start"),
    (dry, f"oil_rise.{K}", "Engine 2 has no oil pressure"),
    (stuck, f"starter_cutout.{K}", "Engine 2 starter still engaged"),
    (seized, f"no_rotation.{K}", "Engine 2 does not turn"),
    (early, f"fuel_early.{K}", "Fuel to engine 2 too early"),
    (slow, f"idle_time.{K}", "Engine 2 not at idle in time"),
    (unwatched, "start_clock", "Stopwatch not running"),
]


def started(clean: CleanSector, change: Change | None, last_s: float = 60.0) -> JudgedFlight:
    """The start of the first engine, from before the push until some time after it runs."""
    begin_s = clean.judged.phase_s("push_back") - 5.0
    return clean.joined(begin_s, clean.judged.phase_s("engine_start") + last_s, change)


def test_a_good_start_gets_no_notice(clean: CleanSector) -> None:
    """A start within its limits gives no finding and no notice."""
    judged = started(clean, None)
    assert judged.found == {}
    assert judged.notice_sentences == []


@pytest.mark.parametrize(("change", "watch", "name"), CASES, ids=[watch for _, watch, _ in CASES])
def test_a_bad_start_is_reported_by_its_name(
    clean: CleanSector, change: Callable[[float, State], dict[str, Value]], watch: str, name: str
) -> None:
    """Hung, hot, no light, no N1 and the others each have their finding and their name."""
    last_s = 110.0 if watch.startswith("idle_time") else 60.0
    judged = started(clean, change, last_s)
    assert f"watch.{watch}" in judged.found
    assert any(sentence.startswith(name) for sentence in judged.notice_sentences)


def first_s(clean: CleanSector, change: Change, what: Callable[[State], bool]) -> float:
    """Time of the first sign in the changed recording of the start."""
    for moment in clean.between(clean.judged.phase_s("push_back"), 1e9):
        state = {**moment.state, **(change(moment.sim_s, moment.state) if callable(change) else change)}
        if what(state):
            return moment.sim_s
    raise AssertionError("it never shows")


def test_a_hot_start_is_reported_in_its_first_second(clean: CleanSector) -> None:
    """The notice comes with the sample that exceeds the limit."""
    over_s = first_s(clean, hot, lambda s: number(s, f"engine.{K}.egt") >= 740.0)
    assert started(clean, hot).finding(f"watch.hot_start.{K}").sim_s == over_s


def test_a_start_without_n1_is_reported_before_the_fuel(clean: CleanSector) -> None:
    """The notice comes at 20 % N2, before the fuel."""
    turning_s = first_s(clean, {}, lambda s: number(s, f"engine.{K}.n2") >= 20.0)
    finding = started(clean, blocked).finding(f"watch.rotor.{K}")
    assert turning_s <= finding.sim_s <= turning_s + 2.0 <= first_s(clean, {}, fed) + 1.0


def test_a_start_without_light_is_reported_at_the_light_off_time(clean: CleanSector) -> None:
    """The notice comes 15 s after the fuel, not before and not long after."""
    fuel_s = first_s(clean, {}, fed)
    finding = started(clean, no_light).finding(f"watch.no_light.{K}")
    assert fuel_s + 14.0 <= finding.sim_s <= fuel_s + 17.0


def test_too_many_and_too_long_start_attempts_give_notices(clean: CleanSector) -> None:
    """The fourth attempt within 5 min gives a notice, and so does a starter that turns for more than 2 min."""
    begin_s = clean.judged.phase_s("push_back")

    def tries(sim_s: float, _: State) -> dict[str, Value]:
        open_ = sim_s % 60.0 < 8.0
        return {f"engine.{K}.start_valve": "open" if open_ else "closed", f"engine.{K}.n2": 4.0}

    def long(_: float, __: State) -> dict[str, Value]:
        return {f"engine.{K}.start_valve": "open", f"engine.{K}.n2": 20.0}

    part = clean.between(begin_s - 5.0, begin_s + 60.0)
    held = [part[-1]._replace(sim_s=part[-1].sim_s + 1.0 + n, calls=()) for n in range(400)]
    assert f"watch.starter_tries.{K}" in JudgedFlight(clean.judge()).play(part + held, tries).found
    assert f"watch.starter_time.{K}" in JudgedFlight(clean.judge()).play(part + held, long).found
    assert f"watch.starter_tries.{K}" not in JudgedFlight(clean.judge()).play(part + held, long).found
