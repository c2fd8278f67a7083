"""The devices that one program watches.

Takes: rigs.  Gives: `Floor`: which rig is meant, and what all of them need to run.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.control import Reply, Request
from bridge.rig import Rig
from rules.source import did_you_mean


class Floor:
    """All rigs by their id, in the order of the screens."""

    def __init__(self, rigs: Sequence[Rig]) -> None:
        """Keep them.

        Args:
            rigs: at least one; no two of the same id.
        """
        self.rigs: Mapping[str, Rig] = {rig.id: rig for rig in rigs}

    def answer(self, request: Request) -> Reply:
        """Let the rig that is meant answer; where there is only one it need not be named."""
        if request.device in self.rigs:
            return self.rigs[request.device].answer(request)
        if not request.device and len(self.rigs) == 1:
            return next(iter(self.rigs.values())).answer(request)
        what = f"unknown device {request.device}" if request.device else "which device?"
        hint = did_you_mean(request.device, self.rigs) if request.device else ""
        return Reply(done=False, text=f"{what}; expected one of {', '.join(self.rigs)} {hint}".rstrip())
