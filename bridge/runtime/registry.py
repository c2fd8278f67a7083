"""The devices that one program watches.

Takes: rigs.  Gives: `Floor`: which rig is meant, and what all of them need to run.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.runtime.device import Device
from bridge.session.requests import Reply, Request
from rules.source import did_you_mean


class DeviceRegistry:
    """All rigs by their id, in the order of the screens."""

    def __init__(self, devices: Sequence[Device]) -> None:
        """Keep them.

        Args:
            devices: at least one; no two of the same id.
        """
        self.devices: Mapping[str, Device] = {rig.id: rig for rig in devices}

    def handle(self, request: Request) -> Reply:
        """Let the rig that is meant answer; where there is only one it need not be named."""
        if request.device in self.devices:
            return self.devices[request.device].handle(request)
        if not request.device and len(self.devices) == 1:
            return next(iter(self.devices.values())).handle(request)
        what = f"unknown device {request.device}" if request.device else "which device?"
        hint = did_you_mean(request.device, self.devices) if request.device else ""
        return Reply(
            accepted=False, text=f"{what}; expected one of {', '.join(self.devices)} {hint}".rstrip()
        )
