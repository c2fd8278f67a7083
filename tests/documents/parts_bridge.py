"""Generates the parts of bridge/README.md: states of a link, keys of the device file, verbs, events of the bus.

Takes: the code.  Gives: `PARTS`.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.page.views.link.view import REMEDIES
from bridge.runtime.device_events import PersistenceProblem, RunnerTicked, SessionCreated
from bridge.runtime.device_file import DeviceForm
from bridge.session.event_bus import StepEvents
from bridge.session.requests import VERB_MEANINGS
from bridge.session.session_input import InputReceived
from tests.documents.forms import keys_of
from tests.documents.markdown import code, table


def _link_states() -> str:
    return table(("state", "what to do"), [(code(word), remedy) for word, remedy in REMEDIES.values()])


def _device_keys() -> str:
    return keys_of(DeviceForm)


def _control_verbs() -> str:
    return table(
        ("verb", "`name`", "`reason`", "effect"),
        [
            (code(verb), meaning.name, meaning.reason, meaning.effect)
            for verb, meaning in VERB_MEANINGS.items()
        ],
    )


def _bus_events() -> str:
    events = (SessionCreated, InputReceived, StepEvents, RunnerTicked, PersistenceProblem)
    return table(
        ("event", "fields", "says"),
        [
            (code(each.__name__), ", ".join(map(code, each._fields)), (each.__doc__ or "").splitlines()[0])
            for each in events
        ],
    )


PARTS: dict[str, Callable[[], str]] = {
    "link states": _link_states,
    "device keys": _device_keys,
    "control verbs": _control_verbs,
    "bus events": _bus_events,
}
