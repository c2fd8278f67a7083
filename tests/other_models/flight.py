"""A flight of some minutes: climb, turn, descent, level, flown by a simple autopilot, sent as bytes, and judged.

Takes: a model of the JSBSim library.  Gives: `JudgedFlight`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, TypeAdapter

from adapters.factory import receiver_for
from mock_sim.send.formats import encoder_for
from rules.judge.judge import Judge
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Value
from rules.source import read_source
from tests.judged_events import JudgedEvents
from tests.shipped import shipped_pack

WIRE = "json"
FRAME_S = 0.25
FPS_KT, FPS_FPM = 0.592484, 60.0
SIGNALS: Mapping[str, tuple[str, float]] = {
    "flight.airspeed": ("velocities/vc-kts", 1.0),
    "flight.ground_speed": ("velocities/vg-fps", FPS_KT),
    "flight.altitude": ("position/h-sl-ft", 1.0),
    "flight.pressure_altitude": ("atmosphere/pressure-altitude", 1.0),
    "flight.height": ("position/h-agl-ft", 1.0),
    "flight.vertical_speed": ("velocities/h-dot-fps", FPS_FPM),
    "flight.heading": ("attitude/psi-deg", 1.0),
    "flight.pitch": ("attitude/theta-deg", 1.0),
    "flight.bank": ("attitude/phi-deg", 1.0),
}
"""Signals that every model of the library has: the property, and the factor to the signal's unit."""


class Model(BaseModel):
    """A model, where its flight begins, and the pack that judges it."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    folder: str
    pack: str
    speed_kt: float
    height_ft: float
    phases: tuple[str, ...]


class Leg(BaseModel):
    """Part of the flight: its end, and what the autopilot holds."""

    until_s: float
    pitch_deg: float
    bank_deg: float
    throttle: float


LEGS = (
    Leg(until_s=20, pitch_deg=2, bank_deg=0, throttle=0.7),
    Leg(until_s=110, pitch_deg=7, bank_deg=0, throttle=0.9),
    Leg(until_s=150, pitch_deg=3, bank_deg=20, throttle=0.75),
    Leg(until_s=250, pitch_deg=-3, bank_deg=0, throttle=0.3),
    Leg(until_s=270, pitch_deg=2, bank_deg=0, throttle=0.7),
)


@dataclass(slots=True)
class JudgedFlight(JudgedEvents):
    """What was judged of a flight, and how it was flown."""

    heights_ft: list[float] = field(default_factory=list)
    steepest_deg: float = 0.0


def models() -> list[Model]:
    """The models of `models.yaml`."""
    data = read_source(Path(__file__).with_name("models.yaml")).data
    return TypeAdapter(list[Model]).validate_python(data)


def fly(model: Model) -> JudgedFlight:
    """Fly a model, send its signals as bytes, and judge what is received; no trip sheet, no calls."""
    pack = shipped_pack(model.pack)
    encoder, receiver = encoder_for(WIRE), receiver_for(pack.signals, format_name=WIRE, link="library")
    judge, judged = Judge(pack, TripSheet("none", {})), JudgedFlight()
    for number, (sim_s, state) in enumerate(_states(model)):
        judged.heights_ft.append(float(state["flight.height"]))
        judged.steepest_deg = max(judged.steepest_deg, abs(float(state["flight.bank"])))
        for data in encoder.encode(sim_s, number, dict(state)):
            for frame in receiver.receive(data, sim_s):
                judged.add(judge.judge_frame(frame))
    return judged


def _states(model: Model) -> Iterator[tuple[float, dict[str, Value]]]:
    """Signals of the flight, four times a second."""
    simulated = _started(model)
    held, frames, legs = 0.0, 0, list(LEGS)
    while simulated.get_sim_time() < LEGS[-1].until_s:
        sim_s = float(simulated.get_sim_time())
        while sim_s > legs[0].until_s:
            legs.pop(0)
        held = _hold(simulated, model, legs[0], held)
        simulated.run()
        if sim_s >= frames * FRAME_S:
            frames += 1
            values = {name: simulated[path] * factor for name, (path, factor) in SIGNALS.items()}
            yield round(sim_s, 3), {**values, "flight.on_ground": "no"}


def _started(model: Model) -> Any:  # noqa: ANN401  the library has no types
    """The library with a model in the air and its engines running."""
    import jsbsim

    simulated = jsbsim.FGFDMExec(None)
    simulated.set_debug_level(0)
    simulated.load_model(model.folder)
    simulated.disable_output()
    start = {
        "h-sl-ft": model.height_ft,
        "vc-kts": model.speed_kt,
        "psi-true-deg": 40.0,
        "terrain-elevation-ft": 0.0,
        "theta-deg": 2.0,
    }
    for name, value in start.items():
        simulated[f"ic/{name}"] = value
    simulated.run_ic()
    simulated["propulsion/set-running"] = -1
    simulated["gear/gear-cmd-norm"] = 0.0
    return simulated


def _hold(simulated: Any, model: Model, leg: Leg, held: float) -> float:  # noqa: ANN401
    """Hold pitch and bank, and the speed as far as the throttle can; give the integral of the pitch."""
    pitch, bank = simulated["attitude/theta-deg"], simulated["attitude/phi-deg"]
    pitching, rolling = simulated["velocities/q-rad_sec"] * 57.3, simulated["velocities/p-rad_sec"] * 57.3
    off = leg.pitch_deg - pitch
    slow_kt = model.speed_kt - simulated["velocities/vc-kts"]
    held = max(-0.6, min(0.6, held + off * 0.0003))
    simulated["fcs/elevator-cmd-norm"] = max(-1.0, min(1.0, -(0.03 * off - 0.02 * pitching) - held))
    roll = 0.02 * (leg.bank_deg - bank) - 0.015 * rolling
    simulated["fcs/aileron-cmd-norm"] = max(-0.5, min(0.5, roll))
    for number in range(int(simulated.get_propulsion().get_num_engines())):
        simulated[f"fcs/throttle-cmd-norm[{number}]"] = max(0.0, min(1.0, leg.throttle + 0.02 * slow_kt))
        simulated[f"fcs/mixture-cmd-norm[{number}]"] = 0.9
    return held
