"""Judges a clean flight once, and each case on a branch of it.

A branch is a child process (so this needs POSIX): it inherits the judge's state just before the first overlay,
and sends back the findings.  So no case judges the first part of the flight again.

Takes: a recording and cases.  Gives: `Outcome`s, and the events of the clean flight.
"""

from __future__ import annotations

import gc
import os
import pickle
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

from rules.judge.events import Finding, FindingOpened, GateEntered, JudgeEvent, Notice
from tests.accidents.accident_case import Case
from tests.accidents.case_player import (
    CasePlayer,
    Marks,
    at_s,
    record_crossings,
    record_marks,
)
from tests.accidents.clean_flight import CleanRecording

GRACE_S = 30.0
"""How long after the clean flight's entry a branch waits for its own."""
MAX_PARALLEL = os.cpu_count() or 1


class Outcome(NamedTuple):
    """Result of a case: its findings in order, up to the entry of its gate, and the times of that entry."""

    findings: tuple[Finding, ...]
    notices: tuple[Notice, ...]
    entry_s: float | None
    clean_entry_s: float

    def lead_s(self, item: str) -> float:
        """Time from an item's finding to the entry, in s."""
        found_s = next(finding.sim_s for finding in self.findings if finding.item == item)
        return (self.clean_entry_s if self.entry_s is None else self.entry_s) - found_s


@dataclass(slots=True)
class FlightOutcomes:
    """Notices and findings of the clean flight, its marks, and the outcome of each case by its id."""

    notices: list[Notice] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    outcomes: dict[str, Outcome] = field(default_factory=dict)


def judge(recording: CleanRecording, cases: Iterable[Case]) -> FlightOutcomes:
    """Play the flight twice: to get the times of its events, then with a branch for each case.

    Args:
        recording: The clean flight.
        cases: Cases that are overlaid on it.
    """
    marks, cases = _marks(recording, judged := FlightOutcomes()), list(cases)
    record_crossings(marks, recording, (moment for case in cases for moment in case.moments))
    waiting = sorted(cases, key=lambda case: _starts_s(case, marks), reverse=True)
    player, running = CasePlayer(recording), _BranchPool(judged)
    gc.collect()
    gc.freeze()  # so that the branches do not scan, and copy, shared objects
    while waiting and not player.over:
        while waiting and _starts_s(waiting[-1], marks) <= player.next_s:
            running.start(waiting.pop(), player, marks)
        if waiting:
            player.clean()
    running.wait_for_all()
    return judged


def _marks(recording: CleanRecording, judged: FlightOutcomes) -> dict[str, float]:
    """Play the clean flight to its end; give the times of its events, and its notices and findings."""
    player, marks = CasePlayer(recording), dict[str, float]()
    while not player.over:
        entries = player.clean()
        record_marks(marks, entries)
        judged.notices += [entry for entry in entries if isinstance(entry, Notice)]
    judged.findings = player.judge.findings
    return marks


def _starts_s(case: Case, marks: Marks) -> float:
    """Time at which the first overlay begins."""
    return min(at_s(moment, marks) for moment in case.starts)


class _BranchPool:
    """Pool of running branches, with a limit on their number."""

    def __init__(self, judged: FlightOutcomes) -> None:
        self._judged = judged
        self._pipes: list[tuple[str, int, int]] = []

    def start(self, case: Case, player: CasePlayer, marks: Marks) -> None:
        """Start the branch of a case."""
        if len(self._pipes) >= MAX_PARALLEL:
            self._wait()
        read_end, write_end = os.pipe()
        child = os.fork()
        if child == 0:
            _send_outcome(write_end, case, player, marks)
        os.close(write_end)
        self._pipes.append((case.id, child, read_end))

    def wait_for_all(self) -> None:
        """Wait for all branches."""
        while self._pipes:
            self._wait()

    def _wait(self) -> None:
        """Read the outcome of the oldest branch."""
        name, child, read_end = self._pipes.pop(0)
        with os.fdopen(read_end, "rb") as pipe:
            result = pipe.read()
        os.waitpid(child, 0)
        outcome = pickle.loads(result)  # noqa: S301  our own child wrote it
        if isinstance(outcome, Exception):
            raise outcome
        self._judged.outcomes[name] = outcome


def _send_outcome(write_end: int, case: Case, player: CasePlayer, marks: Marks) -> None:
    """In the child: play the case, send its outcome, and exit without the parent's cleanup."""
    result: Outcome | Exception
    try:
        result = _branch(case, player, marks)
    except Exception as error:  # noqa: BLE001  the parent raises it
        result = error
    with os.fdopen(write_end, "wb") as pipe:
        pickle.dump(result, pipe)
    os._exit(0)


def _branch(case: Case, player: CasePlayer, marks: Marks) -> Outcome:
    """Play a case to the entry of its gate, or to its last moment."""
    if case.until is not None:
        return _to_its_end(case, player, marks, at_s(case.until, marks))
    clean_s = marks[f"entry {case.gate}"]
    entries: list[JudgeEvent] = []
    entry_s: float | None = None
    for step_entries in player.case(case, marks):
        entries += step_entries
        entry_s = next(
            (e.sim_s for e in step_entries if isinstance(e, GateEntered) and e.gate == case.gate), None
        )
        late = case.jump_back is None and player.judge.sim_s > clean_s + GRACE_S
        if late or entry_s is not None:
            break
    return _outcome(entries, clean_s if entry_s is None else entry_s, entry_s, clean_s)


def _to_its_end(case: Case, player: CasePlayer, marks: Marks, until_s: float) -> Outcome:
    """Play a case to a time of the clean flight."""
    entries: list[JudgeEvent] = []
    for step_entries in player.case(case, marks):
        entries += step_entries
        if player.judge.sim_s >= until_s:
            break
    return _outcome(entries, until_s, None, until_s)


def _outcome(
    entries: Iterable[JudgeEvent], end_s: float, entry_s: float | None, clean_entry_s: float
) -> Outcome:
    """Findings and notices up to a time."""
    seen = [entry for entry in entries if entry.sim_s <= end_s]
    findings = [entry.finding for entry in seen if isinstance(entry, FindingOpened)]
    notices = [entry for entry in seen if isinstance(entry, Notice)]
    return Outcome(tuple(findings), tuple(notices), entry_s, clean_entry_s)
