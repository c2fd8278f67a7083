"""Generates the parts of bridge/README.md: states of a link, keys of the device file, verbs of the control port.

Takes: the code.  Gives: `PARTS`.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.page.views.link.view import REMEDIES
from bridge.runtime.device_file import DeviceForm
from bridge.session.requests import VERB_MEANINGS
from tests.documents.markdown import code, table


def _link_states() -> str:
    return table(("state", "what to do"), [(code(word), remedy) for word, remedy in REMEDIES.values()])


def _device_keys() -> str:
    return table(
        ("key", "default", "meaning"),
        [
            (
                code(name),
                "**must be given**"
                if key.is_required()
                else _default(key.get_default(call_default_factory=True)),
                key.description or "",
            )
            for name, key in DeviceForm.model_fields.items()
        ],
    )


def _default(value: object) -> str:
    return code(str(value)) if value else ""


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
