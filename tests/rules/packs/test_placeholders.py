"""Placeholders in texts: faults at their characters, the signals that are shown, limits."""

from __future__ import annotations

import pytest

from rules.language.scope import PackLimit, Scope
from rules.packs.placeholders import placeholder_faults, signals_shown, with_limits
from rules.packs.sourced import SourceLocation
from rules.signals.book import load_book
from rules.source import parse_source
from tests.rules.packs.sample_packs import fault_text

LIMITS = {"oil_low": PackLimit(40, "psi", "oil limit"), "codes": PackLimit(3, "1", "codes")}
SCOPE = Scope(load_book("twin_jet").signals, limits=LIMITS, inoperative=("hydraulics.2", "bleed.duct"))


@pytest.mark.parametrize(
    ("answer", "shown"),
    [
        ("{lights.beacon}, {lights.logo}", [("lights.beacon",), ("lights.logo",)]),
        ("on", []),
        ("{lights.landing.*}", [("lights.landing.left", "lights.landing.right")]),
        # What is dispatched inoperative is left out, unless nothing else is there.
        ("{hydraulics.*.pressure}", [("hydraulics.1.pressure",)]),
        ("{hydraulics.2.pressure}", [("hydraulics.2.pressure",)]),
        ("{bleed.duct.*}", [("bleed.duct.left", "bleed.duct.right")]),
    ],
)
def test_signals_of_placeholders(answer: str, shown: list[tuple[str, ...]]) -> None:
    """A placeholder stands for its signal, one with a `*` for all that match."""
    assert list(signals_shown(answer, SCOPE).values()) == shown


@pytest.mark.parametrize(
    ("text", "filled"),
    [
        ("below {limit.oil_low}", "below 40 psi"),
        ("{limit.codes} of {fuel.total}", "3 of {fuel.total}"),
        ("{limit.oil}", "{limit.oil}"),
        ("plain", "plain"),
    ],
)
def test_limits_are_filled_in(text: str, filled: str) -> None:
    """A limit is its value with its unit; all other placeholders stay."""
    assert with_limits(text, SCOPE) == filled


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("{limit.oil_lo} * ", "1:9: unknown limit limit.oil_lo, expected a limit of the pack | did you mean limit.oil_low?"),
        ("oil * {fuel.*} x", "1:12: this `*` stands for nothing, expected a text without a bare `*`"),
        ("{fuel.total} ** x", "1:21: this `*` stands for nothing, expected a text without a bare `*`"),
    ],
)  # fmt: skip
def test_faults_have_their_place(text: str, fault: str) -> None:
    """An unknown limit and a `*` outside of the braces are reported at their character."""
    spot = SourceLocation(parse_source(f'text: "{text}"', "t.yaml"), ("text",))
    assert any(fault_text(one).startswith(fault) for one in placeholder_faults(text, spot, SCOPE))
