"""Defines the form of a scenario: the world, the trip, and the steps of each seat.

Takes: plain data from YAML.  Gives: frozen models, checked key by key.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

from rules.signals.model import TRIP_PREFIX, Value
from rules.source import validation_error

SEATS = ("captain", "first_officer", "pilot", "ground", "atc", "tower", "cabin", "weather")
"""The seats, each with a list of steps; the weather is no person but changes in the same way."""

AeroplaneName: TypeAlias = Literal["halyard_220", "halyard_12", "halyard_220_jsbsim"]
"""The aeroplanes that a scenario may fly."""

Key: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$")]
Seconds: TypeAlias = Annotated[float, Field(ge=0, le=14400, allow_inf_nan=False)]
Number: TypeAlias = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Setting: TypeAlias = Number | str
"""A number in the signal's own unit, a word, or `trip.NAME`."""


class ScenarioModel(BaseModel):
    """A frozen model that refuses unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)


class Wait(ScenarioModel):
    """One thing to wait for: a signal, a call, another step, or some seconds.

    A signal is compared in its own unit with `at_least`, `at_most` or `is`; two of them make a band.
    """

    signal: str | None = None
    """A signal, compared by at_least, at_most or is; two of them make a range."""
    at_least: Setting | None = None
    """The lowest value that counts."""
    at_most: Setting | None = None
    """The highest value that counts."""
    equals: Setting | None = Field(None, alias="is")
    """The value or word that counts."""
    call: Key | None = None
    """A call that somebody makes."""
    done: str | None = None
    """A step that is done, as SEAT.KEY."""
    seconds: Seconds | None = None
    """Simulated seconds, 0 to 14 400."""

    @model_validator(mode="after")
    def _one_thing(self) -> Wait:
        """Require exactly one subject, and a comparison if the subject is a signal."""
        subjects = [self.signal, self.call, self.done, self.seconds]
        compared = [self.at_least, self.at_most, self.equals] != [None, None, None]
        if sum(subject is not None for subject in subjects) != 1:
            raise validation_error("a wait needs exactly one subject", "one of signal, call, done or seconds")
        if compared != (self.signal is not None):
            raise validation_error(
                "a comparison without a signal, or a signal without a comparison",
                "at_least, at_most or is, together with a signal",
            )
        return self


class Move(ScenarioModel):
    """One movement of a control: its target, how long it takes, and how long it stays there."""

    signal: str
    """The control."""
    to: Setting
    """Where it is moved to."""
    over_s: Seconds = 0.0
    """Over how many seconds it moves; a control with words moves at once."""
    hold_s: Seconds = 0.0
    """How long it stays there before the next move."""


class Drive(ScenarioModel):
    """Speed and heading on the ground from now on, for the seat at the controls.

    A key that is left out changes nothing.
    """

    speed_kt: Annotated[float, Field(ge=0, le=40)] | None = None
    """The ground speed, 0 to 40 kt; left out means no change."""
    heading_deg: Setting | None = None
    """The heading to turn to; left out means no change."""


class Fly(ScenarioModel):
    """Pitch, heading or landing path by hand from now on; an empty one releases the controls.

    With `path` the aeroplane follows localizer and glide path, flares, and lowers the nose.
    """

    pitch_deg: Annotated[float, Field(ge=-10, le=20)] | None = None
    """The pitch, -10 to 20 degrees."""
    heading_deg: Setting | None = None
    """The heading, reached by bank."""
    path: bool = False
    """Whether the landing system's line and path are followed, the flare made and the nose lowered."""


class Correction(ScenarioModel):
    """The later correction of a slip: what it waits for, the delay, the control positions, and late calls."""

    slip: str
    wait: tuple[Wait, ...]
    after_s: Seconds
    settings: dict[str, Setting]
    calls: tuple[Key, ...] = ()


class Step(ScenarioModel):
    """One action of a seat: wait for all of `wait`, take some seconds, act, and make the calls."""

    key: Key
    """The step's name, unique within its seat; other steps wait for SEAT.KEY."""
    wait: tuple[Wait, ...] = ()
    """What must have come before the seat acts; all of it, one after the other."""
    takes_s: Seconds = 1.5
    """How long the seat takes to act, seconds; each person's pace makes it 0.85 to 1.2 times as long."""
    settings: dict[str, Setting] = Field(default_factory=dict, alias="set")
    """Controls and where they are put."""
    move: tuple[Move, ...] = ()
    """Controls that are moved slowly, or held for a time, one after the other."""
    drive: Drive | None = None
    """What the seat at the controls wants on the ground from now on."""
    fly: Fly | None = None
    """What the seat at the controls wants in the air, by hand, from now on; an empty one takes the hands off."""
    calls: tuple[Key, ...] = ()
    """The calls that the seat makes at the end of the step."""
    slips: tuple[str, ...] = Field((), exclude=True)  # that have changed this step; not written by hand
    corrections: tuple[Correction, ...] = Field((), exclude=True)  # of these slips; not written by hand

    def controls(self) -> set[str]:
        """Return the controls that this step handles."""
        return {*self.settings, *(move.signal for move in self.move)}


Setup: TypeAlias = dict[str, Setting]
Procedure: TypeAlias = dict[str, tuple[Step, ...]]


class SlipKind(StrEnum):
    """The kinds of error that a scenario may script."""

    SKIP = "skip"
    TOO_EARLY = "too_early"
    UNDO = "undo"
    WRONG_VALUE = "wrong_value"
    WRONG_ORDER = "wrong_order"


class SlipChange(ScenarioModel):
    """The change that a slip makes to its step; at least one key."""

    omit: bool = False
    """The whole step is left out."""
    leave: tuple[str, ...] = ()
    """These controls of the step are left alone."""
    instead: dict[str, Setting] = Field(default_factory=dict)
    """These controls go elsewhere."""
    wait: tuple[Wait, ...] | None = None
    """The step waits for this instead."""
    before: str | None = None
    """The step is done just before this step of the seat."""
    after: str | None = None
    """The step is done just after this step of the seat."""
    then: tuple[Step, ...] = ()
    """These steps are done as well, right after it."""


class Slip(ScenarioModel):
    """One scripted error of the crew: a sentence, and the change of one step.

    With `corrected_after_s` the same seat corrects it that many seconds after it was made and all of `corrected_wait` has
    come: with `corrected_by`, or, if that is empty, with the positions and calls of the step.
    """

    id: Key
    """The name for `--slip`."""
    kind: SlipKind
    """skip, too_early, undo, wrong_value or wrong_order."""
    seat: Key
    """Who makes it."""
    sentence: str
    """What is done wrong, in one sentence; printed after the flight."""
    signals: tuple[str, ...]
    """The signals by which it shows."""
    step: Key
    """The step of the seat that it changes."""
    change: SlipChange
    """What is different in that step."""
    corrected_wait: tuple[Wait, ...] = ()
    """What must have come before the seat corrects it."""
    corrected_after_s: Seconds | None = None
    """The seat corrects it so many seconds after it was made and corrected_wait has come; left out, it is never corrected."""
    corrected_by: dict[str, Setting] = Field(default_factory=dict)
    """Where the controls go then; left out, where the step would have put them (and its calls are made, if it was left out)."""

    @model_validator(mode="after")
    def _changes(self) -> Slip:
        """Require that a slip changes something."""
        if self.change == SlipChange():
            raise validation_error(
                f"slip {self.id} changes nothing", "omit, leave, instead, wait, before, after or then"
            )
        return self


class Detour(ScenarioModel):
    """Other steps of a seat: after one of its steps, and then on to another; the steps between are left out.

    Without `after` they come before all other steps.  Without `to` the seat continues with its next step; with `last` these
    steps are its last.
    """

    after: Key | None = None
    """The step after which the seat leaves its list; left out means before its first step."""
    steps: tuple[Step, ...] = ()
    """What the seat does instead."""
    to: Key | None = None
    """The step with which the seat goes on; left out means the next one. Steps between are left out."""
    last: bool = False
    """Whether nothing follows these steps."""


class NextSector(ScenarioModel):
    """Another scenario that the same aeroplane flies next, with other trip values and another world."""

    scenario: Key
    """The scenario that is flown next."""
    trip: dict[Key, Setting] = Field(default_factory=dict)
    """Values of that flight that differ."""
    world: Setup = Field(default_factory=dict)
    """Controls that begin elsewhere there."""


class ScenarioEvent(ScenarioModel):
    """An event that is no error of the crew, and how they respond."""

    id: Key
    """The name for `--event`."""
    sentence: str
    """What happens, in one sentence."""
    world: Setup = Field(default_factory=dict)
    """Controls that begin elsewhere."""
    trip: dict[Key, Setting] = Field(default_factory=dict)
    """Values of the flight that differ."""
    seats: dict[Key, tuple[Detour, ...]] = Field(default_factory=dict)
    """For each seat: the detours that it takes."""
    ends: tuple[Wait, ...] = ()
    """The flight is over when all of this has come; left out means as without the event."""
    then: NextSector | None = None
    """Another scenario that the same aeroplane flies next."""


class ScenarioFile(ScenarioModel):
    """One file of a scenario; its keys may be spread over several files of one folder.

    With `extends` another scenario comes first: its steps, trip, world, slips and events, but not its title, end and demo.
    """

    extends: Key | None = None
    """Another scenario that comes first: its steps, trip, world, slips and events, but not its title, end, longest duration and demo."""
    title: str | None = None
    """The flight in one line."""
    aeroplane: AeroplaneName | None = None
    """halyard_220 (twin jet), halyard_12 (piston single) or halyard_220_jsbsim (the twin jet with the flight mechanics of JSBSim)."""
    world: Setup = Field(default_factory=dict)
    """Controls that begin elsewhere than the aeroplane's own start: weather, loads, faults."""
    trip: dict[Key, Setting] = Field(default_factory=dict)
    """Values of the flight by name; any setting can be written as trip.NAME."""
    seats: Procedure = Field(default_factory=dict)
    """For each seat (captain, first_officer, pilot, ground, atc, tower, cabin, weather): its steps, in their order."""
    ends: tuple[Wait, ...] = ()
    """The flight is over when all of this has come."""
    longest_s: Seconds | None = None
    """Simulated seconds after which the flight is given up as stuck."""
    slips: tuple[Slip, ...] = ()
    """Slips that the crew can be asked to make."""
    events: tuple[ScenarioEvent, ...] = ()
    """What can happen to the crew that is no error of theirs."""
    demo: tuple[str, ...] = ()
    """The slips that `--slip demo` makes."""


class Scenario(ScenarioModel):
    """A whole scenario, read and merged.

    `ends` is the end condition; after `longest_s` simulated seconds the flight is stuck; `demo` names the slips of a
    demonstration.
    """

    name: str
    title: str
    aeroplane: AeroplaneName = "halyard_220"
    world: Setup
    trip: dict[str, Setting]
    seats: Procedure
    ends: tuple[Wait, ...]
    longest_s: float
    slips: tuple[Slip, ...] = ()
    events: tuple[ScenarioEvent, ...] = ()
    demo: tuple[str, ...] = ()

    def value(self, written: Setting) -> Value:
        """Return a setting itself, or the trip entry that it names.

        Args:
            written: a number, a word, or `trip.NAME`; NAME is known to exist.
        """
        if isinstance(written, str) and written.startswith(TRIP_PREFIX):
            return self.trip[written.removeprefix(TRIP_PREFIX)]
        return written

    def step(self, seat: str, key: str) -> Step | None:
        """Return the step of a seat with this key, or None."""
        return next((step for step in self.seats.get(seat, ()) if step.key == key), None)
