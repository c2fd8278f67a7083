"""Every fault that a watch reports of one engine is a cause to idle that engine and to cut it off."""

from __future__ import annotations

import re

import pytest

from rules.language.traversal import signal_names
from rules.packs.condition_facts import compared_signals
from rules.packs.model import FindingKind, Watch
from tests.shipped import shipped

PACK = shipped("twin_jet")[0]
WATCHES = {watch.id: watch for watch in PACK.watches}
_OF_ENGINE = re.compile(r"(engine|fire\.engine|fuel\.filter_bypass|bleed\.trip)\.([12])(\..*)?")


def _told_of(number: str) -> dict[str, set[str]]:
    """The signals of one engine that a watch judges which books it to the aeroplane, by the watch."""
    events = (watch for watch in PACK.watches if watch.finding is FindingKind.AEROPLANE_EVENT)
    found = {watch.id: _of_engine(compared_signals(watch.expect), number) for watch in events}
    return {name: signals for name, signals in found.items() if signals}


def _of_engine(names: tuple[str, ...] | frozenset[str] | set[str], number: str) -> set[str]:
    return {name for name in names if (m := _OF_ENGINE.fullmatch(name)) and m.group(2) == number}


@pytest.mark.parametrize("number", ["1", "2"])
@pytest.mark.parametrize("act", ["watch.engine_cut_off.{}", "watch.thrust_asymmetry"])
def test_each_fault_that_is_told_of_an_engine_excuses_the_act(number: str, act: str) -> None:
    """A new watch on an engine is a new cause; one that is forgotten accuses a crew that does its drill."""
    watch: Watch = WATCHES[act.format(number)]
    told = _told_of(number)
    assert len(told) >= 9
    missing = {name: signals - set(signal_names(watch.expect)) for name, signals in told.items()}
    assert {name: signals for name, signals in missing.items() if signals} == {}
