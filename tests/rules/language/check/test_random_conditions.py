"""The check of any condition with the names of a scope gives a checked tree or faults with places.

Takes: random trees over a small scope.  Gives: tests that no other exception is raised.
"""

from __future__ import annotations

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rules.faults import Fault, InputFaults
from rules.language import checked_tree, syntax
from rules.language.check import AllInoperative, check
from rules.language.check.satisfiability import PossibleTruths, possible_truths
from rules.language.parser import MAX_LENGTH, parse
from rules.language.traversal import item_ids, signal_names
from tests.rules.language.check.test_documented_forms import EXAMPLES
from tests.rules.language.condition_printer import format_condition
from tests.rules.language.scopes import SCOPES, at
from tests.rules.language.syntax_strategies import SyntaxStrategies, joined

_SMALL = SCOPES["small"]
_STARS = (
    "pump.*.switch",
    "engine.*.n2",
    "engine.*.lever",
    "pump.*.nothing",
    "call.*",
    "limit.*",
    "flow.*.pumps",
)
_NAMES = st.sampled_from([*_SMALL.names(), *_STARS, "flow.pumps", "flow.bleed", "nothing"])
_WORDS = ("on", "off", "set", "auto", "14", "met", "papers.runway", "engine.*.lever")
_UNITS = ("", "s", "s", "min", "psi", "kg", "kt", "%", "degC", "degF", "deg", "ft", "ft/min", "blorps")
_writing = SyntaxStrategies(_NAMES, _WORDS, _UNITS)
_conditions = _writing.conditions(6)
_texts = st.sampled_from(list(SCOPES)).flatmap(
    lambda name: st.tuples(st.just(name), _conditions.map(format_condition))
)


def _outcome(text: str, scope: str) -> checked_tree.Condition | tuple[Fault, ...] | None:
    """Checked condition, its faults, or None where all is inoperative."""
    try:
        return check(text, SCOPES[scope], at(text))
    except InputFaults as wrong:
        return wrong.faults
    except AllInoperative:
        return None


@settings(max_examples=300, deadline=None)
@given(_texts)
def test_a_condition_is_checked_or_its_faults_are_placed(written: tuple[str, str]) -> None:
    """A checked condition can change; faults are placed in the text, in its order."""
    scope, text = written
    assume(len(text) <= MAX_LENGTH)
    outcome = _outcome(text, scope)
    if isinstance(outcome, tuple):
        offsets = [fault.place.column - 1 for fault in outcome]
        assert offsets
        assert offsets == sorted(offsets)
        assert all(
            0 <= offset < len(text) and fault.what for offset, fault in zip(offsets, outcome, strict=True)
        )
    elif outcome is not None:
        assert possible_truths(outcome) == PossibleTruths.BOTH
        assert set(item_ids(outcome)) <= set(_SMALL.items)


_sound = st.sampled_from([parse(text) for texts in EXAMPLES.values() for text in texts])
_joined = st.recursive(_sound, joined, max_leaves=6)


@settings(max_examples=300, deadline=None)
@given(_joined.map(format_condition))
def test_sound_conditions_joined_are_sound(text: str) -> None:
    """Valid conditions, joined in any way, are valid, unless together they can never change, or a `not` has a `*`."""
    assume(len(text) <= MAX_LENGTH)
    outcome = _outcome(text, "small")
    if isinstance(outcome, tuple):
        assert {fault.what for fault in outcome if not fault.what.startswith("`not` with ")} <= {
            "this is never true",
            "this is always true",
            "this is never true while the `if` is",
        }
    else:
        assert outcome is not None
        assert possible_truths(outcome) == PossibleTruths.BOTH
        assert set(signal_names(outcome)) <= set(_SMALL.signals)


@settings(max_examples=200, deadline=None)
@given(_conditions)
def test_checking_again_gives_the_same(written: syntax.ConditionExpr) -> None:
    """Checking the same text again gives the same condition or the same faults."""
    text = format_condition(written)
    assume(len(text) <= MAX_LENGTH)
    assert _outcome(text, "small") == _outcome(text, "small")
