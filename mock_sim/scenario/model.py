"""The form of a scenario: the world, the papers, and what each seat does, waits for and says.

Takes: plain data from YAML.  Gives: frozen models, checked key by key.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

from rules.signals.model import Value
from rules.source import validation_error

TRIP_PREFIX = "trip."
"""A value written `trip.NAME` is read from the papers of the scenario."""

SEATS = ("captain", "first_officer", "pilot", "ground", "atc", "tower", "cabin", "weather")
"""Who has a list of steps; the weather is no person but changes in the same way."""

AeroplaneName: TypeAlias = Literal["halyard_220", "halyard_12", "halyard_220_jsbsim"]
"""The aeroplanes that a scenario may fly."""

Key: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$")]
Seconds: TypeAlias = Annotated[float, Field(ge=0, le=14400, allow_inf_nan=False)]
Number: TypeAlias = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Setting: TypeAlias = Number | str
"""A number in the signal's own unit, a word, or `trip.NAME`."""


class ScenarioModel(BaseModel):
    """A frozen model that refuses keys it does not know."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Wait(ScenarioModel):
    """One thing to wait for: a signal, a call, another step, or some seconds.

    A signal is compared in its own unit with `at_least`, `at_most` or `is`; two of them make a band.
    """

    signal: str | None = None
    at_least: Setting | None = None
    at_most: Setting | None = None
    equals: Setting | None = Field(None, alias="is")
    call: Key | None = None
    done: str | None = None
    seconds: Seconds | None = None

    @model_validator(mode="after")
    def _one_thing(self) -> Wait:
        """Exactly one subject, and a comparison where the subject is a signal."""
        subjects = [self.signal, self.call, self.done, self.seconds]
        compared = [self.at_least, self.at_most, self.equals] != [None, None, None]
        if sum(subject is not None for subject in subjects) != 1:
            raise validation_error("a wait without one subject", "one of signal, call, done or seconds")
        if compared != (self.signal is not None):
            raise validation_error(
                "a wait that cannot be judged", "at_least, at_most or is, with a signal and only with one"
            )
        return self


class Move(ScenarioModel):
    """One movement of a control: to a position, over a time, and how long it stays before the next."""

    signal: str
    to: Setting
    over_s: Seconds = 0.0
    hold_s: Seconds = 0.0


class Drive(ScenarioModel):
    """What the one at the controls wants on the ground from now on: a speed, and a heading to turn to.

    What is not said is left alone.
    """

    speed_kt: Annotated[float, Field(ge=0, le=40)] | None = None
    heading_deg: Setting | None = None


class Fly(ScenarioModel):
    """What the one at the controls wants in the air, by hand, from now on; an empty one takes the hands off.

    With `path` the landing system's line and path are followed, the flare made and the nose lowered.
    """

    pitch_deg: Annotated[float, Field(ge=-10, le=20)] | None = None
    heading_deg: Setting | None = None
    path: bool = False


class Correction(ScenarioModel):
    """A slip that is put right: which one, what is awaited, how long after, where the controls go, what is said late."""

    slip: str
    wait: tuple[Wait, ...]
    after_s: Seconds
    settings: dict[str, Setting]
    calls: tuple[Key, ...] = ()


class Step(ScenarioModel):
    """One thing that a seat does: wait for all of `wait`, take some seconds, act, and say the calls."""

    key: Key
    wait: tuple[Wait, ...] = ()
    takes_s: Seconds = 1.5
    settings: dict[str, Setting] = Field(default_factory=dict, alias="set")
    move: tuple[Move, ...] = ()
    drive: Drive | None = None
    fly: Fly | None = None
    calls: tuple[Key, ...] = ()
    slips: tuple[str, ...] = ()  # which slips have changed this step; never written by hand
    corrections: tuple[Correction, ...] = ()  # how they are put right; never written by hand

    def controls(self) -> set[str]:
        """The controls that this step handles."""
        return {*self.settings, *(move.signal for move in self.move)}


Setup: TypeAlias = dict[str, Setting]
Procedure: TypeAlias = dict[str, tuple[Step, ...]]


class SlipKind(StrEnum):
    """The ways in which a crew errs, as the scenario may script them."""

    SKIP = "skip"
    TOO_EARLY = "too_early"
    UNDO = "undo"
    WRONG_VALUE = "wrong_value"
    WRONG_ORDER = "wrong_order"


class SlipChange(ScenarioModel):
    """What a slip does to its step; at least one of these."""

    omit: bool = False  # the whole step is left out
    leave: tuple[str, ...] = ()  # these controls are left alone
    instead: dict[str, Setting] = Field(default_factory=dict)  # these controls go elsewhere
    wait: tuple[Wait, ...] | None = None  # other things are waited for
    before: str | None = None  # done just before another step of the seat
    after: str | None = None  # done just after another step of the seat
    then: tuple[Step, ...] = ()  # done as well, right after the step


class Slip(ScenarioModel):
    """One scripted error of the crew: one sentence for the reader, and what it changes in which step.

    With `mended_after_s` the same seat puts it right so long after it was made and all of `mended_wait` has come: with
    `mended_by`, or where that is empty with what the step should have set, moved and said.
    """

    id: Key
    kind: SlipKind
    seat: Key
    sentence: str
    signals: tuple[str, ...]
    step: Key
    change: SlipChange
    corrected_wait: tuple[Wait, ...] = ()
    corrected_after_s: Seconds | None = None
    corrected_by: dict[str, Setting] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _changes(self) -> Slip:
        """A slip that changes nothing is none."""
        if self.change == SlipChange():
            raise validation_error(
                f"slip {self.id} changes nothing", "omit, leave, instead, wait, before, after or then"
            )
        return self


class Detour(ScenarioModel):
    """Other steps of a seat: after one of its steps, and then on to another; what stands between is left out.

    Without `after` they come before everything else.  Without `to` the seat goes on where it was; with `last` nothing comes after these steps.
    """

    after: Key | None = None
    steps: tuple[Step, ...] = ()
    to: Key | None = None
    last: bool = False


class NextSector(ScenarioModel):
    """Another scenario that the same aeroplane flies next, with other papers and another world."""

    scenario: Key
    trip: dict[Key, Setting] = Field(default_factory=dict)
    world: Setup = Field(default_factory=dict)


class ScenarioEvent(ScenarioModel):
    """Something that happens to the crew and that is no error of theirs, and how they deal with it."""

    id: Key
    sentence: str
    world: Setup = Field(default_factory=dict)  # these begin otherwise
    trip: dict[Key, Setting] = Field(default_factory=dict)  # these entries are other
    seats: dict[Key, tuple[Detour, ...]] = Field(default_factory=dict)
    ends: tuple[Wait, ...] = ()  # when it is over then; empty: as without the event
    then: NextSector | None = None


class ScenarioFile(ScenarioModel):
    """One file of a scenario; its keys may be spread over several files of one folder.

    With `extends` another scenario comes first: its steps, papers, world and slips, but not its title, end and demo.
    """

    extends: Key | None = None
    title: str | None = None
    aeroplane: AeroplaneName | None = None
    world: Setup = Field(default_factory=dict)
    trip: dict[Key, Setting] = Field(default_factory=dict)
    seats: Procedure = Field(default_factory=dict)
    ends: tuple[Wait, ...] = ()
    longest_s: Seconds | None = None
    slips: tuple[Slip, ...] = ()
    events: tuple[ScenarioEvent, ...] = ()
    demo: tuple[str, ...] = ()


class Scenario(ScenarioModel):
    """A whole scenario, as read and merged.

    `ends` is when it is over; `longest_s` when it is given up, simulated seconds; `demo` names the
    slips that a demonstration uses where none are asked for.
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
        """What a setting means: itself, or the entry of the papers that it names.

        Args:
            written: a number, a word, or `trip.NAME`; NAME is known to exist.
        """
        if isinstance(written, str) and written.startswith(TRIP_PREFIX):
            return self.trip[written.removeprefix(TRIP_PREFIX)]
        return written

    def step(self, seat: str, key: str) -> Step | None:
        """The step of a seat with this key, None where there is none."""
        return next((step for step in self.seats.get(seat, ()) if step.key == key), None)
