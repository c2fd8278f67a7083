"""The pack's checklists against what is published on checklist design, as far as a program can check it.

Sources: Degani and Wiener, NASA CR-177549 and Human Factors 35(2); 14 CFR 91.503(b), from memory.
"""

from __future__ import annotations

import re

import pytest

from rules.packs.model import Checklist, Item, Pack, Watch
from tests.shipped import shipped_pack

CHECKED_TWICE = {
    "flow.before_taxi.flaps": "flow.before_takeoff.flaps_before_line_up",
    "flow.before_start.stabiliser_trim": "flow.before_start.stabiliser_trim",
    "flow.panel_entries.v2_captain": "flow.panel_entries.v2_captain",
}
"""Items of an early list, and those of the last list for the same control."""


@pytest.fixture(scope="module")
def pack() -> Pack:
    """The twin_jet pack, without a trip sheet."""
    return shipped_pack("twin_jet")


def lists(pack: Pack) -> list[Checklist]:
    """Its checklists."""
    return list(pack.checklists.values())


def test_the_pack_has_at_least_220_items(pack: Pack) -> None:
    """The whole flight has at least 220 items, and the pack has no faults."""
    assert len(pack.items) >= 220
    assert pack.faults == ()


def test_every_phase_has_its_list(pack: Pack) -> None:
    """Before start, after start, before take-off, after take-off, descent, approach, landing, after landing, parking, secure."""
    assert set(pack.checklists) >= {
        "before_start", "after_start", "before_taxi", "before_takeoff", "after_takeoff", "descent", "approach", "landing",
        "after_landing", "parking", "secure",
    }  # fmt: skip


def test_no_list_is_long(pack: Pack) -> None:
    """A list of more than a dozen lines is split; the number is a choice of the project."""
    assert {c.id: len(c.lines) for c in lists(pack) if len(c.lines) > 12} == {}


def test_a_challenge_is_once_in_a_list(pack: Pack) -> None:
    """No challenge is listed twice."""
    for checklist in lists(pack):
        challenges = [line.challenge for line in checklist.lines]
        assert len(challenges) == len(set(challenges))


def test_the_same_item_is_asked_in_the_same_words(pack: Pack) -> None:
    """One item has one challenge in all lists."""
    words: dict[str, set[str]] = {}
    for checklist in lists(pack):
        for line in checklist.lines:
            for item in line.items:
                words.setdefault(item, set()).add(line.challenge)
    several = {item: challenges for item, challenges in words.items() if len(challenges) > 1}
    assert several == {
        "flow.panel_entries.squawk": {"Squawk", "Transponder"},
        "flow.panel_entries.runway": {"Flight management", "Runway"},
    }


def test_flaps_trim_and_speeds_are_checked_again_before_the_take_off(pack: Pack) -> None:
    """Flaps, trim and speeds are in an early list and in the last one."""
    last = {item for line in pack.checklists["before_takeoff"].lines for item in line.items}
    earlier = {
        item for c in lists(pack) if c.id != "before_takeoff" for line in c.lines for item in line.items
    }
    assert last >= set(CHECKED_TWICE.values())
    assert earlier >= CHECKED_TWICE.keys()


def test_challenges_are_short_and_name_one_thing(pack: Pack) -> None:
    """A challenge has at most 30 characters and joins no two controls."""
    challenges = {line.challenge for c in lists(pack) for line in c.lines}
    assert [c for c in challenges if len(c) > 30 or re.search(r"[/;]| and ", c)] == []


def judged_parts(pack: Pack) -> list[Item | Watch]:
    """Every item and watch that can give a finding."""
    return [*pack.items.values(), *pack.watches]


def test_each_item_and_watch_has_a_reason_or_a_source(pack: Pack) -> None:
    """Each item and watch has a reason or a source."""
    bare = [one.id for one in judged_parts(pack) if not one.why and not one.source]
    assert [name for name in bare if not name.startswith(WORKED_OUT)] == []


WORKED_OUT = ("flow.plausibility.", "flow.arrival", "flow.runway.", "watch.filter_bypass", "watch.bleed_trip")
"""What compares with a figure: the source of the sum stands beside its function."""


def test_numbers_of_regulations_name_them(pack: Pack) -> None:
    """A source that names a rule or a report names its number."""
    named = [one.source for one in judged_parts(pack) if re.search(r"CFR|Annex|NTSB|Doc", one.source)]
    assert len(named) > 20
    assert [source for source in named if not re.search(r"\d", source)] == []
