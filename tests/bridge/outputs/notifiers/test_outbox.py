"""Tests of bridge.outputs.notifiers.outbox: dropped messages and their reports."""

from __future__ import annotations

from bridge.outputs.notifiers.envelope import EnvelopeBuilder
from bridge.outputs.notifiers.outbox import Outbox
from rules.judge.events import ItemStatus, Verdict, VerdictChanged
from tests.bridge.outputs.notifiers.sample_messages import envelope_builder, envelopes, notice

VERDICT = VerdictChanged(1.0, "flow.before.beacon", Verdict.MET, ItemStatus.MET, "beacon is on", "on", "on")


async def test_verdicts_are_dropped_first_and_order_is_kept() -> None:
    """A full queue drops its oldest verdict, then its oldest message; the order is that of arrival."""
    messages = envelopes(VERDICT, notice(), VERDICT, notice(), notice(), notice())
    outbox = Outbox(4)
    for message in messages[:5]:
        outbox.put(message)
    assert outbox.lost.kinds == {"verdict/changed": 1}
    outbox.put(messages[5])
    assert outbox.lost.kinds == {"verdict/changed": 2}
    received = [await outbox.get() for _ in range(5)]
    assert [message.sequence for message in received if message is not None] == [3, 2, 4, 5, 6]
    assert received[0] is not None
    assert (received[0].kind, received[0].body["count"]) == ("lost", 2)


async def test_each_device_gets_a_report_of_its_own_losses() -> None:
    """A report has the number of the latest lost message, and comes before all that wait."""
    one, two = envelope_builder(), EnvelopeBuilder("cab_2", "s9")
    outbox = Outbox(1)
    for message in (one(notice()), two(notice()), one(notice()), two(notice())):
        outbox.put(message)
    received = [await outbox.get() for _ in range(3)]
    assert [(each.device, each.kind, each.sequence) for each in received if each is not None] == [
        ("cab_1", "lost", 2), ("cab_2", "lost", 1), ("cab_2", "notice", 2),
    ]  # fmt: skip
    assert received[0] is not None
    assert received[0].body == {"count": 2, "first": 1, "last": 2, "kinds": {"notice": 2}}
    assert len(outbox) == 0


async def test_after_close_the_queue_ends_with_none() -> None:
    """After the waiting messages `get` returns None, however often it is called."""
    outbox = Outbox()
    (message,) = envelopes(notice())
    outbox.put(message)
    outbox.close()
    assert [await outbox.get(), await outbox.get(), await outbox.get()] == [message, None, None]
