"""Collects every sentence of a shipped pack that a crew can hear: what is open, out of order, called out, called and read.

Takes: the name of a shipped pack.  Gives: sentences by section and rule, as text and as speech.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple, TypeAlias

from ruamel.yaml import YAML

from bridge.outputs.voice.speech_text import speech_text
from rules.judge.signal_text import fill_placeholders
from rules.packs.model import Checklist, Item, Watch, declared_id
from rules.signals.state import SignalState
from tests.checklists.read_lists import call_of
from tests.sentences.breaking import broken_sentences, order_sentences, right_values, without_numbers
from tests.sentences.flights import CleanFlight, fly

FOLDER = Path(__file__).parent
PACKS = ("twin_jet", "trainer")


class CrewSentence(NamedTuple):
    """A sentence as it is shown, and as it is spoken."""

    text: str
    speech: str


Sentences: TypeAlias = Mapping[str, Mapping[str, list[CrewSentence]]]
"""Sentences by section (open, order, callouts, calls, lines) and rule."""


def collect(name: str) -> Sentences:
    """Collect the sentences of a shipped pack."""
    flight = fly(name)
    sections = {
        "open": _open(flight),
        "order": _order(flight),
        "callouts": _callouts(flight),
        "calls": ((call.id, [call.title]) for call in flight.pack.calls.values()),
        "lines": _lines(flight),
    }
    return {
        section: {rule: [CrewSentence(text, speech_text(text)) for text in texts] for rule, texts in entries}
        for section, entries in sections.items()
    }


def read(name: str) -> Sentences:
    """Read the sentences in the data file of a pack."""
    data = YAML(typ="safe", pure=True).load((FOLDER / f"{name}.yaml").read_text("utf-8"))
    return {
        section: {
            rule: [CrewSentence(**one) for one in texts or ()] for rule, texts in (entries or {}).items()
        }
        for section, entries in data.items()
    }


def write(name: str, sentences: Sentences) -> None:
    """Write the data file of a pack."""
    yaml = YAML()
    yaml.width = 1000
    data = {
        section: {rule: [dict(one._asdict()) for one in texts] for rule, texts in entries.items()}
        for section, entries in sentences.items()
    }
    with (FOLDER / f"{name}.yaml").open("w", encoding="utf-8") as file:
        file.write("# Written by `python -m tests.sentences --write`: every sentence that a crew can hear.\n")
        yaml.dump(data, file)


def _open(flight: CleanFlight) -> Iterator[tuple[str, list[str]]]:
    """Sentences of each item and watch that is open; of several matches only what differs in more than a number."""
    seen: dict[str, set[str]] = {}
    rules: list[Item | Watch] = [*flight.pack.items.values(), *flight.pack.watches]
    for rule in rules:
        known, texts = seen.setdefault(declared_id(rule.id), set()), broken_sentences(flight, rule)
        new = [text for text in texts if without_numbers(text) not in known]
        known |= {without_numbers(text) for text in texts}
        if new or not texts:
            yield rule.id, new


def _order(flight: CleanFlight) -> Iterator[tuple[str, list[str]]]:
    """Sentences of each item that is done too early or out of order."""
    seen: dict[str, set[str]] = {}
    for item in flight.pack.items.values():
        if item.after is None and not item.follows:
            continue
        known, texts = seen.setdefault(declared_id(item.id), set()), order_sentences(flight, item)
        new = [text for text in texts if without_numbers(text) not in known]
        known |= {without_numbers(text) for text in texts}
        if new or not texts:
            yield item.id, new


def _callouts(flight: CleanFlight) -> Iterator[tuple[str, list[str]]]:
    """Callouts, as they were made, or with the values at the end of the flight."""
    state = _state_at(flight, flight.moments[-1].sim_s)
    for rule in flight.pack.callouts:
        yield rule.id, [flight.callouts.get(rule.id) or fill_placeholders(rule.text, state, rule.shown)]


def _lines(flight: CleanFlight) -> Iterator[tuple[str, list[str]]]:
    """Challenge and answer of each checklist line, as they are when the list was read."""
    for checklist in flight.pack.checklists.values():
        state = _state_at(flight, _read_s(flight, checklist))
        for line in checklist.lines:
            answer = fill_placeholders(line.answer, state, line.shown)
            yield line.id, [f"{line.challenge}: {answer}."]


def _read_s(flight: CleanFlight, checklist: Checklist) -> float:
    """Time just before a checklist is called complete; the end of the flight if it is not read."""
    call = call_of(checklist.id)
    return next((m.sim_s - 1.0 for m in flight.moments if call in m.calls), flight.moments[-1].sim_s)


def _state_at(flight: CleanFlight, sim_s: float) -> SignalState:
    """State of all signals at a time."""
    state = SignalState(flight.pack.signals)
    for name, value in right_values(flight, flight.at(sim_s)).items():
        if name in flight.pack.signals:
            state.set_value(name, value, sim_s)
    return state
