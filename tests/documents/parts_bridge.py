"""Generates the parts of bridge/README.md: states of a link, keys of the device file, verbs of the control port.

Takes: the code.  Gives: `PARTS`.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.page.views.link.view import REMEDIES
from bridge.runtime.device_file import DeviceForm
from bridge.session.requests import VERB_MEANINGS
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


PARTS: dict[str, Callable[[], str]] = {
    "link states": _link_states,
    "device keys": _device_keys,
    "control verbs": _control_verbs,
}
