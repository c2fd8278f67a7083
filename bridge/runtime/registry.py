"""The devices that one program watches.

Takes: devices.  Gives: `DeviceRegistry`, which passes each request to its device.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.runtime.device import Device
from bridge.session.requests import Reply, Request
from rules.source import did_you_mean


class DeviceRegistry:
    """All devices by id, in the order of the screens."""

    def __init__(self, devices: Sequence[Device]) -> None:
        """Index the devices.

        Args:
            devices: at least one; no two of the same id.
        """
        self.devices: Mapping[str, Device] = {device.id: device for device in devices}

    def handle(self, request: Request) -> Reply:
        """Pass a request to its device; the device may be left out if there is only one."""
        if request.device in self.devices:
            return self.devices[request.device].handle(request)
        if not request.device and len(self.devices) == 1:
            return next(iter(self.devices.values())).handle(request)
        what = f"unknown device {request.device}" if request.device else "which device?"
        hint = did_you_mean(request.device, self.devices) if request.device else ""
        return Reply(
            accepted=False, text=f"{what}; expected one of {', '.join(self.devices)} {hint}".rstrip()
        )
