"""What was told in a session, put on its axis of time.

Takes: entries and notes in their order, each with its place on the tape.  Gives: `Story`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from bridge.debrief.account import GatePassed, Said, Stage, Strip, Told
from bridge.debrief.axis import Axis
from bridge.journal import Journal
from bridge.notes import Change, Remarked, SessionNoted
from bridge.notes import Told as Entry
from bridge.passages import Passages
from rules.judge.entries import (
    CallEntered,
    CallRetracted,
    Finding,
    FindingChanged,
    FindingOpened,
    Life,
    MonitorsReset,
    Notice,
    PhaseEntered,
    StripKept,
    VerdictChanged,
)
from rules.packs.model import Pack


class Found:
    """A finding as it was told last, and when it came and went on the axis."""

    __slots__ = ("at_s", "closed_at_s", "finding", "person", "utc")

    def __init__(self, finding: Finding, at_s: float, utc: float, person: str) -> None:
        """It opens."""
        self.finding, self.at_s, self.utc, self.person = finding, at_s, utc, person
        self.closed_at_s: float | None = None


class Story:
    """A fold over all that was told.

    Attributes:
        found: the findings by their numbers.
        lives: of each item when it came to stand how.
        crew: who sat where last; seat to pseudonym.
        ended_utc: when it was ended, None where it was not.
    """

    def __init__(self, pack: Pack, axis: Axis, began_utc: float) -> None:
        """Nothing was told yet.

        Args:
            pack: has the titles.
            axis: the session's time.
            began_utc: when it began, in seconds since 1970.
        """
        self.found: dict[int, Found] = {}
        self.lives: dict[str, list[tuple[float, Life]]] = {}
        self.calls: list[Said] = []
        self.notices: list[Told] = []
        self.remarks: list[Remarked] = []
        self.notes: list[SessionNoted] = []
        self.strips: list[Strip] = []
        self.stages: list[Stage] = []
        self.crew: dict[str, str] = {}
        self.name, self.course, self.ended_utc = "", "", None
        self.journal = Journal()
        self._pack, self._axis, self._began_utc = pack, axis, began_utc
        self._passages = Passages(pack)
        self._gates: dict[int, GatePassed] = {}
        self._phases = {phase.id: phase for phase in pack.phases}
        self._calls = {call.id: call.title for call in pack.calls.values()}
        self._named: set[str] = set()

    name: str
    course: str
    ended_utc: float | None

    def take(self, told: Entry, place: int) -> None:
        """Take one entry or note.

        Args:
            told: what was told.
            place: how many frames were on the tape by then.
        """
        at_s, utc = self._axis.at_s(place, told.sim_s), self._axis.utc(place, self._began_utc)
        self.journal(told)
        self._pass_gates(told, place, at_s)
        match told:
            case FindingOpened() | FindingChanged():
                self._find(told.finding, place, utc)
            case VerdictChanged():
                self.lives.setdefault(told.item, []).append((at_s, told.life))
            case Notice():
                self.notices.append(Told(at_s, utc, told))
            case PhaseEntered():
                self._go(told.phase, at_s, utc)
            case CallEntered() | CallRetracted():
                self._call(told, at_s, utc)
            case StripKept():
                began_s = at_s - (told.ended_s - told.began_s) if told.ended_s >= told.began_s else at_s
                self.strips.append(Strip(began_s, told))
            case MonitorsReset():
                self._forget(at_s)
            case Remarked():
                self.remarks.append(told)
            case SessionNoted():
                self._note(told)
            case _:
                pass

    @property
    def gates(self) -> tuple[GatePassed, ...]:
        """Every gate that was cued, in the order of the cues."""
        return tuple(self._gates[number] for number in sorted(self._gates))

    def _find(self, finding: Finding, place: int, utc: float) -> None:
        at_s = self._axis.at_s(place, finding.sim_s)
        found = self.found.get(finding.number)
        if found is None:
            found = self.found[finding.number] = Found(finding, at_s, utc, self.crew.get(finding.seat, ""))
        if finding.closed_s is None:
            found.closed_at_s = None  # what did not apply for a while applies again: one error, open still
        elif finding.closed_s != found.finding.closed_s or found.closed_at_s is None:
            found.closed_at_s = max(found.at_s, self._axis.at_s(place, finding.closed_s))
        found.finding = finding

    def _pass_gates(self, told: Entry, place: int, at_s: float) -> None:
        """A gate is cued or entered."""
        passage = self._passages.take(told)
        if passage is None:
            return
        entered_s = at_s if passage.entered_s is not None else None
        cue_s = (
            self._gates[passage.number].cue_at_s
            if entered_s is not None
            else self._axis.at_s(place, passage.cue_s)
        )
        self._gates[passage.number] = GatePassed(passage, cue_s, entered_s)

    def _go(self, phase: str, at_s: float, utc: float) -> None:
        """The phase before ends where this one begins."""
        if self.stages:
            self.stages[-1] = replace(self.stages[-1], to_s=at_s)
        known = self._phases.get(phase)
        title, code = (known.title, known.code) if known else (phase, "")
        self.stages.append(Stage(phase, title, code, at_s, self._axis.to_s, utc))

    def _call(self, told: CallEntered | CallRetracted, at_s: float, utc: float) -> None:
        if isinstance(told, CallEntered):
            title = self._calls.get(told.call, told.call)
            self.calls.append(Said(at_s, utc, told.call, title, told.by))
            return
        for number in range(len(self.calls) - 1, -1, -1):
            if self.calls[number].call == told.call and self.calls[number].taken_back_s is None:
                self.calls[number] = replace(self.calls[number], taken_back_s=at_s)
                return

    def _forget(self, at_s: float) -> None:
        """After a jump back nothing is known of any item."""
        for lives in self.lives.values():
            lives.append((at_s, Life.NO_DATA))

    def _note(self, note: SessionNoted) -> None:
        self.notes.append(note)
        match note.change:
            case Change.NAMED:
                self.name = note.text
            case Change.COURSE:
                self.course = "" if note.text == "none" else note.text
            case Change.SEATED:
                self._seat(note.text)
            case Change.ENDED:
                self.ended_utc = note.utc
            case _:
                pass

    def _seat(self, text: str) -> None:
        """`Captain: Heron`, or `nobody is named for Captain`; who is named first in a seat has sat there all the time."""
        for seat, title in self._pack.seats.items():
            if text.startswith(f"{title}: "):
                self.crew[seat] = who = text.removeprefix(f"{title}: ")
                if seat not in self._named:
                    self._named.add(seat)
                    for found in self.found.values():
                        found.person = who if found.finding.seat == seat else found.person
            elif text == f"nobody is named for {title}":
                self.crew.pop(seat, None)


def titles(pack: Pack) -> tuple[Mapping[str, str], Mapping[str, str]]:
    """The titles of gates and of phases, by their ids."""
    return {gate.id: gate.title for gate in pack.gates}, {phase.id: phase.title for phase in pack.phases}
