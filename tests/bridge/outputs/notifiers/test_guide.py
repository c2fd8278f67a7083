"""Tests that the document on notifiers agrees with the code.

Takes: bridge/outputs/notifiers/README.md and the code.  Gives: tests that fail if only one of them changes.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

import bridge.outputs.notifiers
from bridge.outputs.notifiers.base import DeliveryLimits
from bridge.outputs.notifiers.factory import LINE_BYTES_RANGE, ONLY, OPTIONS, SCHEMES, make_notifiers
from bridge.outputs.notifiers.outbox import MAX_QUEUED
from bridge.outputs.notifiers.udp_line import MAX_LINE_BYTES, format_line
from bridge.outputs.notifiers.zeromq import HIGH_WATER_MARK, STATE_PERIOD_S, topic_of
from bridge.session.session_events import KINDS
from rules.judge.events import Callout
from rules.packs.model import Level
from tests.bridge.outputs.notifiers.sample_messages import envelopes, notice

README = (Path(bridge.outputs.notifiers.__file__).parent / "README.md").read_text(encoding="utf-8")


def rows(heading: str) -> list[str]:
    """The first cell of each row of the table with this heading row."""
    table = README[README.index(heading) :].split("\n\n")[0].splitlines()[2:]
    return [line.split("|")[1] for line in table]


def test_the_example_is_a_message() -> None:
    """The JSON in the document is a message as the code makes it."""
    example = re.search(r"```json\n(.*?)```", README, re.DOTALL)
    assert example is not None
    assert json.loads(example[1]) == envelopes(notice())[0].as_dict()


def test_every_kind_is_listed() -> None:
    """The table has each kind of event, `lost` and `state`, and no other."""
    listed = {word for row in rows("| kind | says |") for word in re.findall(r"`([^`]+)`", row)}
    assert listed == {*KINDS.values()} | {"lost", "state"}


def test_every_address_and_option_is_listed() -> None:
    """The tables have each scheme and each option; every option belongs to a scheme or to all."""
    schemes = " ".join(rows("| address | what is sent there"))
    assert [scheme for scheme in SCHEMES if scheme not in schemes] == []
    listed = set(re.findall(r"`([^`]+)`", " ".join(rows("| option | for |"))))
    assert listed == set(OPTIONS) == {ONLY, *(name for scheme in SCHEMES.values() for name in scheme.options)}


@pytest.mark.parametrize("address", re.findall(r"`'?([a-z-]+://127[^`']*|sound:)'?`", README))
def test_addresses_of_the_document_are_valid(address: str) -> None:
    """Each example address makes a notifier."""
    assert len(make_notifiers([address])) == 1


def test_prefixes_of_the_document_match() -> None:
    """The prefixes in the table of topics match the messages that they name, and not the excluded ones."""
    warning, callout = envelopes(notice(level=Level.WARNING), Callout(1.0, "x", "y"))
    for prefix in ("holdshort/", "holdshort/cab_1/", "holdshort/cab_1/notice/warning"):
        assert prefix in README
        assert topic_of(warning).startswith(prefix)
    assert not topic_of(callout).startswith("holdshort/cab_1/call/")
    assert topic_of(callout).startswith("holdshort/cab_1/call")


def test_numbers_of_the_document_are_those_of_the_code() -> None:
    """The limits and delays are those of the document."""
    limits = DeliveryLimits()
    assert (limits.max_attempts, limits.give_up_after_s, limits.first_delay_s, limits.max_delay_s) == (
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
    assert f"`{format_line(message)}`" in README
