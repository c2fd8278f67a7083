"""The retained state of a device for late subscribers: its phase, its open errors and its doubts.

Takes: envelopes.  Gives: a `state` message.
"""

from __future__ import annotations

from dataclasses import replace

from bridge.outputs.notifiers.envelope import Envelope, PlainData
from rules.packs.model import FindingKind

_DOUBT = str(FindingKind.NOT_VERIFIABLE)


class RetainedState:
    """Follows the messages of one device and keeps its present state, as a receiver of all messages would know it."""

    def __init__(self) -> None:
        self._latest: Envelope | None = None
        self._phase = ""
        self._open: dict[int, PlainData] = {}

    def update(self, message: Envelope) -> None:
        """Apply one message; the first message of another session clears the state."""
        if self._latest is not None and self._latest.session != message.session:
            self._phase = ""
            self._open.clear()
        self._latest = message
        match message.kind:
            case "phase/entered":
                self._phase = str(message.body["phase"])
            case "finding/opened" | "finding/changed":
                self._update_finding(message.body["finding"])
            case "monitors/reset":
                self._open.clear()

    def message(self) -> Envelope | None:
        """The message `state`, with the number and times of the latest message; None before the first one."""
        if self._latest is None:
            return None
        findings = [self._open[number] for number in sorted(self._open)]
        body = {
            "sim_s": self._latest.sim_s,
            "phase": self._phase,
            "open_findings": [finding for finding in findings if finding["kind"] != _DOUBT],
            "not_verifiable": [finding for finding in findings if finding["kind"] == _DOUBT],
        }
        return replace(self._latest, kind="state", body=body)

    def _update_finding(self, finding: PlainData) -> None:
        if finding["closed_s"] is None:
            self._open[finding["number"]] = finding
        else:
            self._open.pop(finding["number"], None)
