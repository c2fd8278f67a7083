"""Tests of bridge.session: listeners that fail, requests from the crew."""

from __future__ import annotations

import structlog
from structlog.testing import capture_logs

from bridge.control import Request
from bridge.journal import Journal
from bridge.notes import Told
from bridge.session import MOST_FAILURES
from rules.packs.model import Pack
from tests.bridge.making import Sender, rig_of
from tests.contract.until import Clock


class Failing:
    """A listener that raises, and counts how often it was asked."""

    def __init__(self) -> None:
        """Not asked yet."""
        self.asked = 0

    def __call__(self, _entry: Told) -> None:
        """Raise."""
        self.asked += 1
        raise RuntimeError("the speaker is unplugged")


def test_a_failing_listener_is_named_then_left_out_and_the_others_hear_on(pack: Pack, clock: Clock) -> None:
    """A listener that always raises is logged each time, asked no more after its limit, and stops nobody else."""
    structlog.reset_defaults()
    rig, _ = rig_of(pack, clock)
    failing, after, sender = Failing(), Journal(), Sender()
    rig.listen(failing)
    rig.listen(after)
    with capture_logs() as logs:
        for second in range(40):
            beacon = "on" if second % 2 else "off"
            rig.session.take(sender.datagram(second, {"lights.beacon": beacon}, push_approved=0.5), second)
    assert failing.asked == MOST_FAILURES
    assert [entry["event"] for entry in logs] == ["listener failed"] * MOST_FAILURES + ["listener left out"]
    assert logs[0]["listener"] == "Failing"
    assert "unplugged" in logs[0]["why"]
    assert after.findings == rig.journal.findings
    assert after.findings
    assert rig.session.core.session.sim_s == 39


def test_a_listener_that_fails_now_and_then_stays(pack: Pack, clock: Clock) -> None:
    """Failures count in a row only: one that works again keeps its place."""
    structlog.reset_defaults()
    rig, _ = rig_of(pack, clock)
    heard: list[int] = []

    def moody(_entry: Told) -> None:
        heard.append(len(heard))
        if len(heard) % 3:
            raise RuntimeError("not now")

    rig.listen(moody)
    sender = Sender()
    with capture_logs() as logs:
        for second in range(60):
            beacon = "on" if second % 2 else "off"
            rig.session.take(sender.datagram(second, {"lights.beacon": beacon}), second)
    assert len(heard) > MOST_FAILURES
    assert "listener left out" not in [entry["event"] for entry in logs]


def test_bytes_that_are_no_record_reach_nobody(pack: Pack, clock: Clock) -> None:
    """A datagram of garbage raises nothing, is counted, and the next good one is judged."""
    rig, _ = rig_of(pack, clock)
    for data in (b"", b"\xff" * 60_000, b"\x81", b"fuel,total"):
        rig.session.take(data, 1.0)
    assert rig.journal.phases == []
    assert rig.session.receiver.health.rejected == 4
    rig.session.take(Sender().datagram(0.0), 1.0)
    assert [phase.phase for phase in rig.journal.phases] == ["stand"]


def test_requests_are_done_or_refused_with_a_hint(pack: Pack, clock: Clock) -> None:
    """A call, confirmation or excuse is done; a name that nobody knows is refused and the nearest is named."""
    rig, _ = rig_of(pack, clock)
    rig.session.take(Sender().datagram(0.0), 1.0)
    done = [
        rig.answer(Request("call", "push_approved", "ground")),
        rig.answer(Request("confirm", "flow.before.documents", "captain")),
        rig.answer(Request("excuse", "flow.before.pressure", "instructor", "pump out of service")),
    ]
    assert [reply.done for reply in done] == [True, True, True]
    assert rig.journal.calls[0].by == "ground"
    refused = rig.answer(Request("call", "push_aproved"))
    assert not refused.done
    assert "did you mean push_approved?" in refused.text
    unsaid = rig.answer(Request("excuse", "flow.before.beacon", "instructor"))
    assert not unsaid.done
    assert "reason" in unsaid.text
    shown = rig.answer(Request("confirm", "flow.before.beacon"))
    assert not shown.done
    assert "the aeroplane shows" in shown.text
