"""The guide's section on ways out says what is so.

Takes: DEVELOPERS.md, section 10, and the code.  Gives: tests that fail when either changes alone.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from bridge.outputs.notifiers.base import DeliveryLimits
from bridge.outputs.notifiers.factory import _MAKERS, LINE_BYTES_RANGE, make_notifiers
from bridge.outputs.notifiers.outbox import MAX_QUEUED
from bridge.outputs.notifiers.udp_line import MAX_LINE_BYTES, format_line
from bridge.outputs.notifiers.zeromq import HIGH_WATER_MARK, STATE_PERIOD_S, topic_of
from bridge.session.session_events import KINDS
from rules.judge.events import Callout
from rules.packs.model import Level
from tests.bridge.outputs.notifiers.sample_messages import envelopes, notice

GUIDE = (Path(__file__).parents[4] / "DEVELOPERS.md").read_text(encoding="utf-8")
SECTION = GUIDE[GUIDE.index("\n## 10. Ways out") :].split("\n## 11.")[0]


def rows(heading: str) -> list[str]:
    """The first cell of each row of the table under this heading row."""
    table = SECTION[SECTION.index(heading) :].split("\n\n")[0].splitlines()[2:]
    return [line.split("|")[1] for line in table]


def test_the_example_is_what_is_sent() -> None:
    """The JSON in the guide is a message as the code makes it."""
    example = re.search(r"```json\n(.*?)```", SECTION, re.DOTALL)
    assert example is not None
    assert json.loads(example[1]) == envelopes(notice())[0].as_dict()


def test_every_kind_is_told() -> None:
    """Each kind of entry and note stands in the table, and nothing else but the two that are ours."""
    told = {word for row in rows("| kind | says |") for word in re.findall(r"`([^`]+)`", row)}
    assert told == {*KINDS.values()} | {"lost", "state"}


def test_every_address_and_option_is_told() -> None:
    """Each scheme and each option of it stands in its table."""
    schemes = " ".join(rows("| address | what goes there"))
    assert [scheme for scheme in _MAKERS if scheme not in schemes] == []
    told = set(re.findall(r"`([^`]+)`", " ".join(rows("| option | for |"))))
    assert told == {"only", *(option for _, options in _MAKERS.values() for option in options)}


@pytest.mark.parametrize("address", re.findall(r"`'?([a-z-]+://127[^`']*|sound:)'?`", SECTION))
def test_addresses_of_the_guide_can_be_used(address: str) -> None:
    """Each is understood."""
    assert len(make_notifiers([address])) == 1


def test_prefixes_of_the_guide_match() -> None:
    """Each line of the table of topics chooses what it says and not what it says that it does not."""
    warning, callout = envelopes(notice(level=Level.WARNING), Callout(1.0, "x", "y"))
    for prefix in ("holdshort/", "holdshort/cab_1/", "holdshort/cab_1/notice/warning"):
        assert prefix in SECTION
        assert topic_of(warning).startswith(prefix)
    assert not topic_of(callout).startswith("holdshort/cab_1/call/")
    assert topic_of(callout).startswith("holdshort/cab_1/call")


def test_numbers_of_the_guide_are_those_of_the_code() -> None:
    """Bounds and pauses."""
    bounds = DeliveryLimits()
    assert (bounds.max_attempts, bounds.give_up_after_s, bounds.first_delay_s, bounds.max_delay_s) == (
        10,
        300.0,
        1.0,
        30.0,
    )
    assert (HIGH_WATER_MARK, MAX_QUEUED, STATE_PERIOD_S, MAX_LINE_BYTES, LINE_BYTES_RANGE) == (
        1000,
        1000,
        2.0,
        240,
        (40, 1400),
    )
    (message,) = envelopes(Callout(404.0, "start_oil", "Oil pressure"))
    assert f"`{format_line(message)}`" in SECTION
