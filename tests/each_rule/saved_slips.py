"""Slips that a search has found, stored as data: one for each rule, so that proving a rule needs no new search.

Takes: `slips/PACK.yaml`.  Gives: `SavedSlip`s by rule, and trials of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Self

from pydantic import BaseModel, ConfigDict, TypeAdapter
from ruamel.yaml import YAML

from rules.packs.model import Item, Watch
from rules.signals.model import Value
from rules.source import read_source
from tests.accidents.accident_case import When
from tests.each_rule.breaking_changes import Change
from tests.each_rule.clean_flights import CleanFlight
from tests.each_rule.trials import LONGEST_S, Task, Trial, Window

FOLDER = Path(__file__).with_name("slips")
HEAD = "# Written by `python -m tests.each_rule --write`: of each rule the change of a clean flight that it finds.\n"


class SavedSlip(BaseModel):
    """A change of a clean flight, from a moment after a cue or an entry on; the fields are those of `Change`, and what else is found."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    flight: str
    begins: When
    put: dict[str, Value] = {}
    plus: dict[str, float] = {}
    hold: list[str] = []
    ramp: dict[str, float] = {}
    calls: list[str] = []
    besides: list[str] = []

    @property
    def change(self) -> Change:
        """The change itself."""
        return Change(self.put, self.plus, frozenset(self.hold), self.ramp, frozenset(self.calls))

    def task(self, flight: CleanFlight, rule: Item | Watch) -> Task | None:
        """When to lay it over a flight; None where it is of another one, or the flight no longer has that moment."""
        began_s = marks_of(flight).get(self.begins.event)
        if self.flight != flight.name or began_s is None:
            return None
        begin_s = began_s + self.begins.after_s
        return Task(Window(begin_s, begin_s + LONGEST_S + rule.hold_s), rule, self.change)

    def is_as_saved(self, trial: Trial) -> bool:
        """True if the rule was found, and nothing besides that was not found before."""
        return bool(trial.sentence) and set(trial.others) <= set(self.besides)

    @classmethod
    def of(cls, trial: Trial, flight: CleanFlight) -> Self:
        """The slip of a trial, its begin measured from the last cue or entry before."""
        marks = marks_of(flight)
        before = [(at_s, event) for event, at_s in marks.items() if at_s <= trial.begin_s]
        at_s, event = max(before)
        change = trial.change
        return cls.model_validate(
            {
                "flight": trial.flight,
                "begins": f"{event} + {trial.begin_s - at_s:.1f} s",
                "put": change.put,
                "plus": change.plus,
                "hold": sorted(change.hold),
                "ramp": change.ramp,
                "calls": sorted(change.calls),
                "besides": list(trial.others),
            }
        )

    def data(self) -> dict[str, object]:
        """As in the file."""
        short = self.model_dump(exclude_defaults=True)
        return {**short, "begins": f"{self.begins.event} + {self.begins.after_s:g} s"}


def marks_of(flight: CleanFlight) -> Mapping[str, float]:
    """First time of each cue and entry of a gate, and of the begin as `entry start`."""
    marks = {"entry start": 0.0}
    for gate, spans in flight.gates.items():
        if not spans:
            continue
        marks[f"cue {gate}"] = spans[0].begin_s
        if spans[0].end_s is not None:
            marks[f"entry {gate}"] = spans[0].end_s
    return marks


def saved_slips(pack: str, folder: Path = FOLDER) -> dict[str, SavedSlip]:
    """Read the slips of a pack by rule; none where the file is missing."""
    path = folder / f"{pack}.yaml"
    if not path.exists():
        return {}
    return TypeAdapter(dict[str, SavedSlip]).validate_python(read_source(path).data)


def save_slips(pack: str, slips: Mapping[str, SavedSlip], folder: Path = FOLDER) -> None:
    """Write the slips of a pack, in the order of the rules' names."""
    folder.mkdir(exist_ok=True)
    yaml = YAML()
    yaml.width = 1000
    yaml.default_flow_style = None
    with (folder / f"{pack}.yaml").open("w", encoding="utf-8") as file:
        file.write(HEAD)
        yaml.dump({rule: slips[rule].data() for rule in sorted(slips)}, file)
