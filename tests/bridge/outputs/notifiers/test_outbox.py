"""Tests of bridge.outputs.notifiers.outbox: what makes room for what, and how that is told."""

from __future__ import annotations

from bridge.outputs.notifiers.envelope import EnvelopeBuilder
from bridge.outputs.notifiers.outbox import Outbox
from rules.judge.events import ItemStatus, Verdict, VerdictChanged
from tests.bridge.outputs.notifiers.sample_messages import envelope_builder, envelopes, notice

VERDICT = VerdictChanged(1.0, "flow.before.beacon", Verdict.MET, ItemStatus.MET, "beacon is on", "on", "on")


async def test_verdicts_make_room_for_all_else_and_order_stays() -> None:
    """Where there is no room the oldest verdicts go, then the oldest of the rest; the order is that of arrival."""
    messages = envelopes(VERDICT, notice(), VERDICT, notice(), notice(), notice())
    outbox = Outbox(4)
    for message in messages[:5]:
        outbox.put(message)
    assert outbox.lost.kinds == {"verdict/changed": 1}
    outbox.put(messages[5])
    assert outbox.lost.kinds == {"verdict/changed": 2}
    taken = [await outbox.get() for _ in range(5)]
    assert [message.sequence for message in taken if message is not None] == [3, 2, 4, 5, 6]
    assert taken[0] is not None
    assert (taken[0].kind, taken[0].body["count"]) == ("lost", 2)


async def test_each_device_is_told_its_own_losses() -> None:
    """A message of losses has the number of the latest one lost, and comes before all that is held."""
    one, two = envelope_builder(), EnvelopeBuilder("cab_2", "s9")
    outbox = Outbox(1)
    for message in (one(notice()), two(notice()), one(notice()), two(notice())):
        outbox.put(message)
    told = [await outbox.get() for _ in range(3)]
    assert [(each.device, each.kind, each.sequence) for each in told if each is not None] == [
        ("cab_1", "lost", 2), ("cab_2", "lost", 1), ("cab_2", "notice", 2),
    ]  # fmt: skip
    assert told[0] is not None
    assert told[0].body == {"count": 2, "first": 1, "last": 2, "kinds": {"notice": 2}}
    assert len(outbox) == 0


async def test_after_the_end_what_waits_is_given_then_nothing() -> None:
    """None ends the taking, again and again."""
    outbox = Outbox()
    (message,) = envelopes(notice())
    outbox.put(message)
    outbox.close()
    assert [await outbox.get(), await outbox.get(), await outbox.get()] == [message, None, None]
