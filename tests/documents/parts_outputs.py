"""Generates the parts of the documents on the debrief, the notifiers and the voice.

Takes: the code.  Gives: `PARTS`, as in `tests.documents.generated`.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.debrief.tables import TABLES
from bridge.outputs.notifiers.base import KindFilter
from bridge.outputs.notifiers.factory import OPTIONS, SCHEMES, make_notifiers
from bridge.outputs.voice.speech_composer import TTL_S
from bridge.outputs.voice.speech_queue import INTERRUPTS, PRIORITY_MEANINGS, SpeechPriority
from bridge.session.session_events import KINDS
from tests.documents.markdown import code, table

OTHER_KINDS = {
    "lost": "`count` messages from number `first` to number `last` were not delivered by this notifier, by `kinds`.",
    "state": "ZeroMQ only: the phase, the open findings, and apart what is `not_verifiable`, with the number of the latest message.",
}


def _debrief_tables() -> str:
    return table(
        ("table", "columns", "contains"),
        [(code(name), ", ".join(map(code, form.columns)), form.description) for name, form in TABLES.items()],
    )


def _notifier_addresses() -> str:
    rows = []
    for scheme in SCHEMES.values():
        (notifier,) = make_notifiers([scheme.example])
        rows.append((code(scheme.example), scheme.description, _kinds(notifier.kind_filter)))
    return table(("address", "what is sent there", "kinds unless `only` selects others"), rows)


def _kinds(selected: KindFilter) -> str:
    if selected.include:
        return ", ".join(map(code, selected.include))
    if selected.exclude:
        return f"every kind but {', '.join(map(code, selected.exclude))}"
    return "every kind"


def _notifier_options() -> str:
    rows = [(code(name), owner, meaning) for name, (owner, meaning) in OPTIONS.items()]
    return table(("option", "for", "meaning"), rows)


def _message_kinds() -> str:
    own = {kind: (event.__doc__ or "").splitlines()[0] for event, kind in KINDS.items()}
    return table(
        ("kind", "says"), [(code(kind), meaning) for kind, meaning in {**own, **OTHER_KINDS}.items()]
    )


def _speech_priorities() -> str:
    return table(
        ("priority", "what is spoken", "expires after", "interrupts"),
        [
            (code(p.label), PRIORITY_MEANINGS[p], f"{TTL_S[p]:g} s", _interrupted_by(p))
            for p in SpeechPriority
        ],
    )


def _interrupted_by(priority: SpeechPriority) -> str:
    interrupted = INTERRUPTS.get(priority, frozenset[SpeechPriority]())
    return ", ".join(code(p.label) for p in SpeechPriority if p in interrupted) or "none"


PARTS: dict[str, Callable[[], str]] = {
    "debrief tables": _debrief_tables,
    "notifier addresses": _notifier_addresses,
    "notifier options": _notifier_options,
    "message kinds": _message_kinds,
    "speech priorities": _speech_priorities,
}
