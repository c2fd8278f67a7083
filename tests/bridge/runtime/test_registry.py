"""Tests of bridge.runtime.registry: the device of a request."""

from __future__ import annotations

import pytest

from bridge.runtime.registry import DeviceRegistry
from bridge.session.requests import Request
from rules.packs.model import Pack
from tests.bridge.page.page_builders import FlownDevice


@pytest.fixture
def bays(pack: Pack) -> list[FlownDevice]:
    """Build two devices."""
    return [FlownDevice(pack, name=name) for name in ("bay_1", "bay_2")]


def test_a_request_goes_to_the_device_that_it_names(bays: list[FlownDevice]) -> None:
    """A request goes to the device that it names and to no other."""
    registry = DeviceRegistry([bay.device for bay in bays])
    assert registry.handle(Request("rename_session", "Morning", device="bay_2")).accepted
    assert [bay.device.session.name for bay in bays] == ["Session 1", "Morning"]


def test_a_single_device_need_not_be_named(bays: list[FlownDevice]) -> None:
    """A request without a device goes to the only one; one with an unknown name is refused."""
    registry = DeviceRegistry([bays[0].device])
    assert registry.handle(Request("rename_session", "Morning")).accepted
    assert not registry.handle(Request("rename_session", "Noon", device="bay_2")).accepted
    assert bays[0].device.session.name == "Morning"


def test_a_request_must_name_one_of_several_devices(bays: list[FlownDevice]) -> None:
    """Without a device the request is refused with all ids; a similar id is suggested."""
    registry = DeviceRegistry([bay.device for bay in bays])
    without_device = registry.handle(Request("rename_session", "Morning"))
    assert (without_device.accepted, without_device.text) == (
        False,
        "which device?; expected one of bay_1, bay_2",
    )
    unknown_device = registry.handle(Request("rename_session", "Morning", device="bay_3"))
    assert "unknown device bay_3" in unknown_device.text
    assert "did you mean" in unknown_device.text
    assert [bay.device.session.name for bay in bays] == ["Session 1", "Session 1"]
