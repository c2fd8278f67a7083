"""Each gate of the flight: a correct crew gets no notice, and each error is found before the phase begins."""

from __future__ import annotations

import pytest

from rules.packs.model import declared_id
from tests.packs_flight.errors import ERRORS, Error
from tests.packs_flight.recorded_sector import CleanSector, JudgedFlight
from tests.shipped import shipped_pack

JOINED_S = {"cruise": 60.0, "descent": 200.0, "landing": 90.0}
JOINED_AT = {
    "high_speed": "engine_start",  # the control check must have been seen
    "climb": "engine_start",
    "parked": "short_final",  # a stand after a landing looks like any other
    "shutdown": "short_final",
    "secure": "short_final",
    "dark": "short_final",
}
CASES = [(gate, error) for gate, errors in ERRORS.items() for error in errors]
NOT_CALLED = {call for _, error in CASES for call in error.calls_left_out}


def part(clean: CleanSector, gate: str) -> tuple[float, float]:
    """Part from some time before a gate's cue, or from the beginning of a phase, to just after its entry."""
    if gate in JOINED_AT:
        return clean.judged.phase_s(JOINED_AT[gate]), clean.judged.entered_s(gate) + 2.0
    cued_s = min(clean.judged.cued_s(gate), clean.judged.entered_s(gate))
    return cued_s - JOINED_S.get(gate, 40.0), clean.judged.entered_s(gate) + 2.0


@pytest.fixture(scope="session")
def silent(clean: CleanSector) -> JudgedFlight:
    """The whole sector without each call that an error leaves out.

    That a call was not made is known only of a flight that is watched from its beginning, so all of them share one.
    """
    assert not any(error.change for _, error in CASES if error.calls_left_out)
    return JudgedFlight(clean.judge()).play(clean.moments, calls_left_out=NOT_CALLED)


@pytest.mark.parametrize("gate", ERRORS)
def test_a_correct_crew_gets_no_notice_at_the_gate(clean: CleanSector, gate: str) -> None:
    """From before the gate, the unchanged recording enters the phase without findings and notices."""
    judged = clean.joined(*part(clean, gate))
    assert judged.entered_s(gate) == pytest.approx(clean.judged.entered_s(gate), abs=1)
    assert judged.found == {}
    assert judged.notice_sentences == []


@pytest.mark.parametrize(("gate", "error"), CASES, ids=[f"{g}-{e.item}" for g, e in CASES])
def test_an_error_is_found_before_the_phase_begins(
    clean: CleanSector, silent: JudgedFlight, gate: str, error: Error
) -> None:
    """The finding has the right kind, gives a notice, and opens no later than the entry."""
    judged = silent if error.calls_left_out else clean.joined(*part(clean, gate), error.change)
    assert judged.found.get(error.item) == error.kind
    finding = judged.finding(error.item)
    entered_s = [e.sim_s for e in judged.entries if getattr(e, "phase", "") == clean_phase(clean, gate)]
    assert all(finding.sim_s <= sim_s for sim_s in entered_s)
    assert any(finding.crew_sentence in sentence for sentence in judged.notice_sentences)


def clean_phase(clean: CleanSector, gate: str) -> str:
    """Phase that a gate leads to."""
    return next(g.phase for g in clean.pack.gates if g.id == gate)


def test_every_item_of_the_flight_has_its_error() -> None:
    """Each item of the flows from the roll on has a case, unless it reads another item; of one with a `*`, one match."""
    flows = {
        "takeoff_roll", "initial_climb", "after_takeoff", "climb", "cruise", "descent_preparation", "approach",
        "landing_configuration", "stabilised", "stabilised_500", "touchdown", "landing_roll", "after_landing",
        "shut_down_ready", "parking", "secure",
    }  # fmt: skip
    declared = map(declared_id, shipped_pack("twin_jet").items)
    items = {i for i in declared if i.startswith("flow.") and i.split(".")[1] in flows}
    tried = {declared_id(error.item) for _, error in CASES}
    assert sorted(items - tried - WITHOUT) == []


WITHOUT = {
    "flow.cruise.cruise_standard_left",  # a watch tells it long before
    "flow.cruise.cruise_standard_right",
    "flow.climb.standard_captain",  # of these a watch, or another item, tells the same fact: days of `other_days`
    "flow.climb.standard_first_officer",
    "flow.climb.transponder_in_climb",
    "flow.climb.air_data_heat_in_climb",
    "flow.cruise.cruise_altitude_captain",
    "flow.approach.approach_headings",
    "flow.approach.approach_air_data_heat",
    "flow.landing_configuration.landing_altimeters",
    "flow.after_takeoff.generators_in_climb",  # the watch of the generator tells it
    "flow.climb.altimeters_in_climb",  # the watch of the altimeters tells it
    "flow.landing_configuration.one_engine_flap",  # a day of `other_days` flies it
    "flow.cruise.cruise_centre_pumps",
    "flow.landing_roll.slow_to_vacate",
    "flow.shut_down_ready.cooled",
    "flow.parking.parking_levers_off",  # the engines would run
    "flow.secure.secure_apu",
    "flow.secure.secure_apu_cooled",
    "flow.secure.secure_external",
}
