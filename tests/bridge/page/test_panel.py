"""Tests of bridge.page.panel: a stored text equals a new rendering after every event."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum

import msgspec
import pytest
from jinja2 import Template

from bridge.page.panel import PagePanel, PanelText
from bridge.page.renderer import Renderer
from bridge.page.views.registry import PANELS
from rules.packs.model import Pack
from tests.bridge.page.page_builders import FlownDevice

PLAIN_TYPES = (str, int, float, bool, type(None), Enum)


def steps(flown: FlownDevice) -> Iterator[str]:
    """Take a device through frames, requests, calls, waivers, papers, stalls, failures and sessions; name each step."""
    yield "nothing received"
    flown.ask("call", "clearance", "captain")
    yield "a call before the first frame"
    for second in range(3):
        flown.frame(second, {"lights.beacon": "off", "hydraulics.1.pressure": 100.0 + second})
        yield "a frame with a moving gauge"
    for verb, name, by, reason in (
        ("assign_seat", "captain", "instructor", "person 7"),
        ("rename_session", "Morning", "instructor", ""),
        ("set_course", "Recurrent", "instructor", ""),
        ("mute", "", "instructor", ""),
        ("unmute", "", "instructor", ""),
        ("remark", "", "instructor", "late"),
        ("start_checklist", "before", "", ""),
        ("confirm", "flow.before.documents", "captain", ""),
        ("leave_open", "before", "", ""),
        ("call", "cabin_ready", "cabin", ""),
        ("undo_call", "cabin_ready", "cabin", ""),
        ("waive", "flow.before.logo", "instructor", "no bulb"),
        ("undo_waiver", "flow.before.logo", "instructor", ""),
        ("close_checklist", "before", "", ""),
    ):
        flown.ask(verb, name, by, reason)
        yield verb
    assert flown.ask("amend", by="captain", reason="trip: {title: New, values: {v1: 137 kt}}").accepted
    yield "amended papers"
    values: dict[str, str | float] = {
        "lights.beacon": "on",
        "engine.1.n2": 60.0,
        "engine.1.oil_pressure": 5.0,
    }
    for second in range(3, 20):
        flown.wall.now_s += 1.0
        flown.clock.now_s += 1.0
        moving: dict[str, str | float] = (
            {"flight.ground_speed": 3.0, "lights.taxi": "on"} if second > 8 else {}
        )
        flown.frame(second, {**values, **moving, "hydraulics.1.pressure": 2000.0 + second}, push_approved=4.0)
        yield "a frame with a violation, a cue and a passed gate"
    for seconds in (0.3, 1.0, 3.0, 11.0, 61.0):
        flown.pass_time(seconds)
        yield "a stall"
    flown.frame(20.0, {**values, "engine.1.oil_pressure": 50.0})
    yield "data again"
    flown.frame(5.0, values)
    yield "a clock that jumped back"
    for verb in ("pause", "resume", "end"):
        flown.ask(verb, by="instructor")
        yield verb
    for name in ("Second", "Third"):
        flown.ask("start_session", name, "instructor")
        yield "a new session"
        flown.frame(30.0, values)
        yield "its first frame"
    flown.device.source.failure = "the port is in use"
    yield "a link that failed"


def test_a_stored_text_is_the_present_one(flown: FlownDevice) -> None:
    """After every step, and for every panel, the stored text is the one that a new rendering gives."""
    stored = {name: Renderer().panel_renderer(name, flown.device) for name in PANELS}
    changed = dict.fromkeys(PANELS, 0)
    before = dict.fromkeys(PANELS, "")
    for step in steps(flown):
        for name, text_now in stored.items():
            text = text_now()
            assert text == Renderer().panel_renderer(name, flown.device)(), (step, name)
            changed[name] += text != before[name]
            before[name] = text
    assert all(count > 1 for count in changed.values()), changed


def test_inputs_and_values_cannot_change_later(flown: FlownDevice) -> None:
    """They contain plain values and new collections only, so that comparing them finds every change."""
    for step in steps(flown):
        for name, panel in PANELS.items():
            inputs, again = panel.inputs(flown.device), panel.inputs(flown.device)
            found = [
                *shared_or_live(inputs, again),
                *shared_or_live(panel.values(inputs), panel.values(again)),
            ]
            assert found == [], (step, name)


def shared_or_live(value: object, again: object) -> Iterator[str]:
    """Name what may change later in a value: objects of other types, and collections that are not made for each rendering.

    The pack does not change, nor does what belongs to it.
    """
    if isinstance(value, (*PLAIN_TYPES, Pack)):
        return
    if isinstance(value, dict | list | set) and value and value is again and not is_of_pack(value):
        yield f"the same {type(value).__name__} each time: {value!r:.80}"
    parts: list[tuple[object, object]] = []
    if isinstance(value, Mapping) and isinstance(again, Mapping):
        parts = [(one, again.get(key)) for key, one in value.items()]
    elif isinstance(value, list | tuple) and isinstance(again, list | tuple):
        parts = list(zip(value, again, strict=True))
    elif is_dataclass(value) and not isinstance(value, type) and _is_frozen(value):
        if not all(field.compare for field in fields(value)):
            yield f"{type(value).__name__} does not compare all of its fields"
        parts = [(getattr(value, field.name), getattr(again, field.name)) for field in fields(value)]
    elif isinstance(value, msgspec.Struct) and value.__struct_config__.frozen:
        names = value.__struct_fields__
        parts = [(getattr(value, name), getattr(again, name)) for name in names]
    elif not isinstance(value, frozenset):
        yield f"{type(value).__name__} may change later"
    for one, other in parts:
        yield from shared_or_live(one, other)


def _is_frozen(value: object) -> bool:
    """Tell whether the fields of a dataclass cannot be set."""
    return bool(getattr(value, "__dataclass_params__").frozen)  # noqa: B009 - no type has it


def is_of_pack(value: object) -> bool:
    """Seats are the same mapping each time, because they belong to the pack."""
    return value == {"captain": "Captain", "first_officer": "First officer"}


def test_only_a_change_is_rendered(flown: FlownDevice, monkeypatch: pytest.MonkeyPatch) -> None:
    """Equal inputs give the text without making values; equal values give it without rendering."""
    made: list[object] = []
    shown = {"session": 1}
    template = Template("{{ parity }}")
    rendered: list[object] = []

    def render(values: dict[str, object]) -> str:
        rendered.append(values)
        return str(values["parity"])

    monkeypatch.setattr(template, "render", render)

    def values(number: int) -> dict[str, object]:
        made.append(number)
        return {"parity": number % 2}

    text = PanelText(PagePanel("", lambda _: shown["session"], values), template, flown.device)
    texts = []
    for number in (1, 1, 3, 2, 2):
        shown["session"] = number
        texts.append(text())
    assert texts == ["1", "1", "1", "0", "0"]
    assert made == [1, 3, 2]
    assert rendered == [{"parity": 1}, {"parity": 0}]
