"""Tests of bridge.outputs.notifiers.zeromq: topics, late subscribers, and socket options."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

import msgpack
import zmq
import zmq.asyncio
from msgspec import structs

from bridge.outputs.notifiers.base import DeliveryLimits
from bridge.outputs.notifiers.envelope import Envelope
from bridge.outputs.notifiers.retained_state import RetainedState
from bridge.outputs.notifiers.zeromq import (
    HIGH_WATER_MARK,
    STATE_PERIOD_S,
    ZmqNotifier,
    encode_message,
    topic_of,
)
from rules.judge.events import CallEntered, FindingChanged, FindingOpened, MonitorsReset, PhaseEntered
from rules.packs.model import FindingKind, Level
from tests.bridge.outputs.notifiers.sample_messages import envelope_builder, envelopes, finding, notice
from tests.contract.notifier_cases import ManualSleep
from tests.contract.waiting import wait_until


@asynccontextmanager
async def running(notifier: ZmqNotifier) -> AsyncIterator[None]:
    """An open notifier."""
    task = asyncio.create_task(notifier.run())
    try:
        await wait_until(lambda: notifier.status_text(0.0).split(": ", 1)[1].startswith("open,"))
        yield
    finally:
        notifier.close()
        await task


@asynccontextmanager
async def subscribed(notifier: ZmqNotifier, topic: str) -> AsyncIterator[zmq.asyncio.Socket]:
    """A subscriber to one prefix, registered at the publisher."""
    context, before = zmq.asyncio.Context(), notifier.subscriptions
    with context.socket(zmq.SUB) as opened:
        opened.setsockopt(zmq.LINGER, 0)
        opened.setsockopt(zmq.SUBSCRIBE, topic.encode())
        opened.connect(f"tcp://127.0.0.1:{notifier.port}")
        await wait_until(lambda: notifier.subscriptions > before)
        yield opened
    context.term()


async def received(opened: zmq.asyncio.Socket) -> tuple[str, dict[str, Any]]:
    """The topic and the content of the next message."""
    async with asyncio.timeout(10):
        topic, data = await opened.recv_multipart()
    return topic.decode(), msgpack.unpackb(data)


def test_topics() -> None:
    """A topic has the device, the kind, and the level if there is one."""
    messages = envelopes(
        notice(level=Level.WARNING), FindingOpened(5.0, finding()), PhaseEntered(0.0, "taxi", ""),
        CallEntered(0.0, "push_approved", "ground"),
    )  # fmt: skip
    assert [topic_of(message) for message in messages] == [
        "holdshort/cab_1/notice/warning", "holdshort/cab_1/finding/opened/warning",
        "holdshort/cab_1/phase/entered", "holdshort/cab_1/call/entered",
    ]  # fmt: skip


def test_the_body_has_the_same_keys_as_json() -> None:
    """The body is the whole message as MessagePack."""
    (message,) = envelopes(notice())
    assert msgpack.unpackb(encode_message(message)) == message.as_dict()


async def test_a_subscription_selects_by_prefix() -> None:
    """A subscriber to warnings of one device gets no cautions, and no messages of another device."""
    notifier = ZmqNotifier()
    async with running(notifier), subscribed(notifier, "holdshort/cab_1/notice/warning") as opened:
        other = envelope_builder()
        other.device = "cab_10"
        for message in (
            *envelopes(notice(level=Level.CAUTION)), other(notice(level=Level.WARNING)),
            *envelopes(notice(level=Level.WARNING, sentence="the one")),
        ):  # fmt: skip
            notifier.enqueue(message)
        topic, message_ = await received(opened)
        assert (topic, message_["body"]["sentence"]) == ("holdshort/cab_1/notice/warning", "the one")


async def test_a_late_subscriber_gets_the_state() -> None:
    """The state has the phase, the open findings, and the number of the latest message."""
    notifier = ZmqNotifier(wait=ManualSleep())
    async with running(notifier):
        for message in envelopes(
            PhaseEntered(1.0, "taxi", ""), FindingOpened(5.0, finding(1)), FindingOpened(6.0, finding(2)),
            FindingChanged(9.0, finding(1, closed_s=9.0)),
        ):  # fmt: skip
            notifier.enqueue(message)
        await wait_until(lambda: notifier.counts.delivered == 4)
        async with subscribed(notifier, "holdshort/cab_1/state") as opened:
            topic, state = await received(opened)
    assert topic == "holdshort/cab_1/state"
    assert (state["session"], state["sequence"], state["sim_s"]) == ("s1", 4, 9.0)
    assert state["body"]["phase"] == "taxi"
    assert [open_finding["number"] for open_finding in state["body"]["open_findings"]] == [2]


def test_a_doubt_is_no_open_finding_of_the_state() -> None:
    """What is not verifiable is listed apart until it closes."""
    state = RetainedState()
    doubt = structs.replace(finding(2), kind=FindingKind.NOT_VERIFIABLE)
    for message in envelopes(FindingOpened(5.0, finding(1)), FindingOpened(6.0, doubt)):
        state.update(message)
    opened = state.message()
    assert opened is not None
    assert [one["number"] for one in opened.body["open_findings"]] == [1]
    assert [one["number"] for one in opened.body["not_verifiable"]] == [2]


async def test_the_state_is_repeated() -> None:
    """It is published after each period; a reset of the clock and another session clear the open findings."""
    waits = ManualSleep()
    notifier = ZmqNotifier(wait=waits)
    build = envelope_builder()

    async def state_after(*messages: Envelope) -> dict[str, Any]:
        for message in messages:
            notifier.enqueue(message)
        sent = notifier.counts.accepted
        await wait_until(lambda: notifier.counts.delivered == sent)
        pauses = len(waits.requested_s)
        waits.release()
        await wait_until(lambda: len(waits.requested_s) > pauses)
        _, state = await received(opened)
        return state

    async with running(notifier), subscribed(notifier, "holdshort/cab_1/state") as opened:
        first = await state_after(build(PhaseEntered(1.0, "taxi", "")), build(FindingOpened(5.0, finding())))
        assert (first["body"]["phase"], len(first["body"]["open_findings"])) == ("taxi", 1)
        reset = await state_after(build(MonitorsReset(0.0, 1)))
        assert (reset["body"]["phase"], reset["body"]["open_findings"]) == ("taxi", [])
        build.begin_session()
        restarted = await state_after(build(notice()))
        assert (restarted["body"]["phase"], restarted["sequence"]) == ("", 1)
    assert set(waits.requested_s) == {STATE_PERIOD_S}


async def test_the_socket_options() -> None:
    """The high-water mark is set before binding, and the address is loopback."""
    notifier = ZmqNotifier()
    async with running(notifier):
        assert notifier._socket is not None
        assert notifier._socket.getsockopt(zmq.SNDHWM) == HIGH_WATER_MARK
        assert notifier._socket.getsockopt(zmq.LINGER) == 0
        endpoint = bytes(notifier._socket.getsockopt(zmq.LAST_ENDPOINT))
        assert endpoint.rstrip(b"\0") == f"tcp://127.0.0.1:{notifier.port}".encode()
        assert notifier.status_text(0.0) == (
            f"zmq-pub 127.0.0.1:{notifier.port}: open, 0 sent, no subscriber yet"
        )


async def test_a_port_in_use_is_retried() -> None:
    """The status text has the problem; when the port is free the notifier opens."""
    first, waits = ZmqNotifier(), ManualSleep()
    async with running(first):
        second = ZmqNotifier(port=first.port, wait=waits)
        task = asyncio.create_task(second.run())
        await wait_until(lambda: len(waits.requested_s) == 1)
        assert (
            "cannot publish at this address: Address already in use; choose another port; trying again in"
            in (second.status_text(second.clock()))
        )
    waits.release()
    await wait_until(lambda: second.status_text(0.0).split(": ", 1)[1].startswith("open,"))
    second.close()
    await task


def test_the_status_text_names_an_address_open_to_others() -> None:
    """The status text of any address but loopback says that other machines can connect."""
    assert "open to other machines" in ZmqNotifier("0.0.0.0", 5140).status_text(0.0)  # noqa: S104 - nothing is opened
    assert "open to other machines" not in ZmqNotifier("127.0.0.1", 5140).status_text(0.0)


async def test_a_subscriber_that_does_not_read_delays_no_other() -> None:
    """While one subscriber does not read many more messages than the high-water mark, another one gets the last message."""
    notifier = ZmqNotifier(limits=DeliveryLimits(max_queued=6000))
    messages = envelopes(*(notice(sentence="x" * 2000) for _ in range(5000)), MonitorsReset(0.0, 1))
    async with (
        running(notifier),
        subscribed(notifier, "holdshort/cab_1/notice"),
        subscribed(notifier, "holdshort/cab_1/monitors") as reader,
    ):
        for message in messages:
            notifier.enqueue(message)
        _, last = await received(reader)
        assert last["sequence"] == 5001
        assert notifier.counts.delivered == 5001
