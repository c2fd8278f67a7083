"""Tests of what a session lets its keepers hear before it judges."""

from __future__ import annotations

import structlog
from structlog.testing import capture_logs

from bridge.control import Request, Verb
from bridge.inputs import Input, Ticked
from bridge.notes import Remarked, Told
from rules.judge.items import verdict_of
from rules.packs.model import Pack
from rules.signals.model import Frame
from tests.bridge.making import Sender, rig_of
from tests.contract.until import Clock


def test_inputs_come_before_what_they_bring_about(pack: Pack, clock: Clock) -> None:
    """A frame, a request and a tick that makes something too old are heard in their order, each before its entries."""
    rig, _ = rig_of(pack, clock)
    heard: list[Input | Told] = []
    rig.session.inputs.append(heard.append)
    rig.listen(heard.append)
    rig.session.take(Sender().datagram(0.0), clock())
    rig.answer(Request("call", "push_approved"))
    rig.session.tick(clock() + 0.25)
    rig.session.tick(clock() + 600)
    rig.session.tick(clock() + 601)
    assert isinstance(heard[0], Input)
    inputs = [one.what for one in heard if isinstance(one, Input)]
    assert [type(what) for what in inputs] == [Frame, Request, Ticked]
    assert inputs[-1] == Ticked(clock() + 600)
    assert not isinstance(heard[-1], Input)


def test_a_request_that_is_refused_is_heard_too(pack: Pack, clock: Clock) -> None:
    """What was asked and not done is an input like any other."""
    rig, _ = rig_of(pack, clock)
    heard: list[Input] = []
    rig.session.inputs.append(heard.append)
    assert not rig.answer(Request("retract", "push_approved")).done
    assert [one.what for one in heard] == [Request("retract", "push_approved")]


def test_a_note_has_the_moment_of_its_request(pack: Pack, clock: Clock) -> None:
    """The wall's clock is read once for a request: what it brings about has the same time, to the microsecond."""
    rig, _ = rig_of(pack, clock)
    heard: list[Input] = []
    told: list[Told] = []
    rig.session.inputs.append(heard.append)
    rig.listen(told.append)
    rig.answer(Request("remark", "", "instructor", "a good start"))
    assert isinstance(told[0], Remarked)
    assert told[0].utc == heard[0].utc == round(heard[0].utc, 6)


def test_a_keeper_that_fails_stops_nothing(pack: Pack, clock: Clock) -> None:
    """Where an input could not be kept that is logged, and the input is judged."""
    structlog.reset_defaults()
    rig, _ = rig_of(pack, clock)

    def broken(_: Input) -> None:
        raise RuntimeError("no room")

    rig.session.inputs.append(broken)
    with capture_logs() as logs:
        rig.session.take(Sender().datagram(0.0), clock())
    assert [entry["event"] for entry in logs] == ["input not kept"]
    assert rig.journal.phases


def beacon(rig_pack: Pack, clock: Clock, verbs: tuple[Verb, Verb]) -> str:
    """What is known of the beacon after it was switched off between two requests, and frames went on."""
    rig, _ = rig_of(rig_pack, clock)
    sender = Sender()
    rig.session.take(sender.datagram(0.0), clock())
    rig.answer(Request(verbs[0], ""))
    rig.session.take(sender.datagram(1.0, {"lights.beacon": "off"}), clock())
    rig.answer(Request(verbs[1], ""))
    rig.session.take(sender.datagram(2.0, {"lights.beacon": "off"}), clock())
    return verdict_of(rig.session.core.items.states["flow.before.beacon"].truth)


def test_what_changes_in_a_pause_is_known_after_it(pack: Pack, clock: Clock) -> None:
    """A switch that was thrown while the session was paused is seen where it is once it goes on."""
    assert beacon(pack, clock, ("pause", "resume")) == "unmet"


def test_the_next_session_knows_what_no_longer_changes(pack: Pack, clock: Clock) -> None:
    """A session that begins on a link that runs already is told everything, also what stays as it was."""
    rig, _ = rig_of(pack, clock)
    sender = Sender()
    rig.session.take(sender.datagram(0.0), clock())
    rig.answer(Request("begin", "second"))
    rig.session.take(sender.datagram(1.0), clock())
    assert verdict_of(rig.session.core.items.states["flow.before.beacon"].truth) == "met"
