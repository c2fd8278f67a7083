"""One `*` is one match: a condition with it means what its written-out text means, in both evaluators.

The oracle of the wildcard writes the condition out from the definition; the oracle of the language gives its truth.
"""

from __future__ import annotations

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from rules.faults import InputFaults
from rules.language.check import check
from rules.language.checked_tree import Condition
from rules.language.online import Monitors
from rules.language.parser import parse
from rules.language.scope import Scope
from rules.signals.model import Signal, SignalKind
from tests.rules.language.batch.column_run import ColumnRun
from tests.rules.language.condition_printer import format_condition
from tests.rules.language.condition_strategies import SampleStore
from tests.rules.language.oracle import Oracle
from tests.rules.language.oracle_histories import Step
from tests.rules.language.scopes import SCOPES, at
from tests.rules.language.wildcard_oracle import written_out


def _signal(name: str, kind: SignalKind, *words: str) -> Signal:
    return Signal(name, kind, 0, name, "", "psi" if not words else "", 0.0, 9.0, words)


SIGNALS = {
    signal.name: signal
    for signal in (
        *(_signal(f"e.{n}.s", SignalKind.SWITCH, "off", "on") for n in "12"),
        *(_signal(f"e.valve.{n}", SignalKind.SWITCH, "off", "on") for n in "12"),
        *(_signal(f"e.{n}.x", SignalKind.QUANTITY) for n in "12"),
        *(_signal(f"door.{side}", SignalKind.SWITCH, "off", "on") for side in ("left", "right")),
        _signal("lamp", SignalKind.SWITCH, "off", "on"),
    )
}
SCOPE = Scope(SIGNALS)

_leaves = st.sampled_from(
    [
        "e.*.s is on",
        "e.valve.* is on",
        "e.*.s is e.valve.*",
        "e.*.x > 4 psi",
        "highest(e.*.x, 1 s) > e.*.x",
        "door.* is on",
        "lamp is on",
        "e.1.s is on",
        "e.*.s became on",
        "(e.*.x > 4 psi) happened within the last 1 s",
    ]
)


def _compound(parts: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    """Conditions made of two smaller ones, or of one."""
    pairs = (
        "({} and {})",
        "({} or {})",
        "(if {} then {})",
        "(({}) became true after ({}) became true)",
        "({} since ({}) became true)",
        "(({}) happened before ({}) became true)",
    )
    singles = ("not ({})", "any ({})", "(({}) for 1 s)", "(count(({}) became true, 2 s) < 2)")
    return st.one_of(
        st.builds(str.format, st.sampled_from(pairs), parts, parts),
        st.builds(str.format, st.sampled_from(singles), parts),
    )


_words: st.SearchStrategy[float | str | None] = st.sampled_from(["off", "on"])
_numbers: st.SearchStrategy[float | str | None] = st.sampled_from([0.0, 3.0, 6.0])
texts = st.recursive(_leaves, _compound, max_leaves=5)


@st.composite
def traces(draw: st.DrawFn) -> list[Step]:
    """Steps with new values of some of these signals."""
    now_s, trace = 8.0, []
    for number in range(draw(st.integers(1, 8))):
        now_s += draw(st.sampled_from([0.25, 0.5, 1.0])) if number else 0.0
        names = draw(st.lists(st.sampled_from(sorted(SIGNALS)), unique=True, max_size=9))
        values = {name: draw(_words if SIGNALS[name].words else _numbers) for name in names}
        trace.append(Step(now_s, values))
    return trace


def _checked(text: str) -> Condition:
    """Checked condition; texts that are refused are not drawn."""
    try:
        return check(text, SCOPE, at(text))
    except InputFaults:
        assume(condition=False)
        raise


@settings(max_examples=300, deadline=None)
@given(texts, traces())
@example(
    "if e.*.s is on then e.valve.* is on",
    [Step(8.0, {"e.1.s": "on", "e.valve.1": "off", "e.2.s": "off", "e.valve.2": "on"})],
)
@example(
    "e.*.s is on and (lamp is on and not e.valve.* is on)",
    [Step(8.0, {"e.1.s": "on", "e.valve.1": "off", "e.2.s": "on", "e.valve.2": "on", "lamp": "on"})],
)
@example(
    "e.*.s is on and (if e.valve.* is on then lamp is on)",
    [Step(8.0, {"e.1.s": "on", "e.valve.1": "off", "e.2.s": "on", "e.valve.2": "on", "lamp": "off"})],
)
@example(
    "e.*.s is on and door.* is on and not (e.valve.* is on or door.* is e.1.s)",
    [
        Step(
            8.0,
            {
                "e.1.s": "on",
                "e.valve.1": "off",
                "e.2.s": "on",
                "e.valve.2": "off",
                "door.left": "on",
                "door.right": "off",
            },
        )
    ],
)
def test_a_wildcard_means_its_written_out_text(text: str, trace: list[Step]) -> None:
    """The truth after each step is that of the condition that the oracle writes out, in both evaluators."""
    condition = _checked(text)
    plain = format_condition(written_out(parse(text), SCOPE.matching_words))
    meant = _checked(plain)
    assert "*" not in plain
    state, columns = SampleStore(), ColumnRun({"it": condition}, trace, SIGNALS)
    online = Monitors({"it": condition}, state)
    for number, (step, _) in enumerate(zip(trace, columns, strict=True), start=1):
        online.advance(step.at_s, state.apply(step), step.calls, step.speakers)
        truth = Oracle(trace[:number]).truth(meant)
        assert online.truth("it") is truth, plain
        assert columns.monitors.truth("it") is truth, plain


def test_nested_wildcards_have_a_limit() -> None:
    """An `any` in an `any` in an `any` ... is refused before it takes long."""
    text = "engine.*.n2 > 5 %"
    for _ in range(14):
        text = f"any (engine.*.n2 > 5 % and {text})"
    with pytest.raises(InputFaults, match="too many matches"):
        check(text, SCOPES["small"], at(text))
