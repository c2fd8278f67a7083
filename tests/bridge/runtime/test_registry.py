"""Tests of bridge.runtime.registry: which device is meant."""

from __future__ import annotations

import pytest

from bridge.runtime.registry import DeviceRegistry
from bridge.session.requests import Request
from rules.packs.model import Pack
from tests.bridge.page.page_builders import FlownDevice


@pytest.fixture
def bays(pack: Pack) -> list[FlownDevice]:
    """Two devices."""
    return [FlownDevice(pack, name=name) for name in ("bay_1", "bay_2")]


def test_the_device_that_is_named_answers(bays: list[FlownDevice]) -> None:
    """A request goes to the device that it names and to no other."""
    registry = DeviceRegistry([bay.device for bay in bays])
    assert registry.handle(Request("rename_session", "Morning", device="bay_2")).accepted
    assert [bay.device.session.name for bay in bays] == ["Session 1", "Morning"]


def test_where_there_is_only_one_it_need_not_be_named(bays: list[FlownDevice]) -> None:
    """One device is meant without a word, but not by the name of another."""
    registry = DeviceRegistry([bays[0].device])
    assert registry.handle(Request("rename_session", "Morning")).accepted
    assert not registry.handle(Request("rename_session", "Noon", device="bay_2")).accepted
    assert bays[0].device.session.name == "Morning"


def test_where_there_are_several_it_is_asked_which(bays: list[FlownDevice]) -> None:
    """Without a device the request is refused with all ids; a similar id is suggested."""
    registry = DeviceRegistry([bay.device for bay in bays])
    unsaid = registry.handle(Request("rename_session", "Morning"))
    assert (unsaid.accepted, unsaid.text) == (False, "which device?; expected one of bay_1, bay_2")
    wrong = registry.handle(Request("rename_session", "Morning", device="bay_3"))
    assert "unknown device bay_3" in wrong.text
    assert "did you mean" in wrong.text
    assert [bay.device.session.name for bay in bays] == ["Session 1", "Session 1"]
