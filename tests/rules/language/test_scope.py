"""A scope finds names, the words that match a `*`, and the nearest name to a mistyped one.

Takes: the small scopes.  Gives: names.
"""

from __future__ import annotations

import pytest

from tests.rules.language.scopes import SCOPES

SMALL = SCOPES["small"]


@pytest.mark.parametrize(
    ("pattern", "words"),
    [
        ("pump.*.switch", ("left", "centre", "right")),
        ("engine.*.n2", ("1", "2")),
        ("lights.*", ("beacon", "strobe")),
        ("pump.left.*", ("switch", "low_pressure")),
        ("call.*", ("push_approved", "cleared")),
        ("flow.*.pumps", ("before_start", "after_start")),
        ("pump.*", ()),
        ("engine.*.n9", ()),
    ],
)
def test_a_wildcard_is_one_whole_part_of_a_name(pattern: str, words: tuple[str, ...]) -> None:
    """`*` matches exactly one part of a name, in the order of the book, never a piece of one nor two of them."""
    assert SMALL.matching_words(pattern) == words


@pytest.mark.parametrize(
    ("scope", "path", "items"),
    [
        ("small", "flow.pumps", ("flow.before_start.pumps",)),
        ("after start", "flow.pumps", ("flow.after_start.pumps",)),
        ("taxi", "flow.pumps", ("flow.before_start.pumps", "flow.after_start.pumps")),
        ("taxi", "flow.bleed", ("flow.after_start.bleed",)),
        ("taxi", "flow.after_start.pumps", ("flow.after_start.pumps",)),
        ("taxi", "checklist.before_start.1", ("checklist.before_start.1",)),
        ("taxi", "flow.nothing", ()),
    ],
)
def test_an_items_short_name_means_the_nearest(scope: str, path: str, items: tuple[str, ...]) -> None:
    """A short name is the own flow's item, else every flow's item of that key; a full one is itself."""
    assert SCOPES[scope].items_named(path) == items


@pytest.mark.parametrize(
    ("path", "meant"),
    [
        ("lights.becon", "lights.beacon"),
        ("Lights.Beacon", "lights.beacon"),
        ("flow.pump", "flow.pumps"),
        ("pump.*.swich", "pump.*.switch"),
        ("zzzzzz", ""),
    ],
)
def test_nearest_name(path: str, meant: str) -> None:
    """A mistyped name finds its neighbour; one that is similar to no name finds none."""
    assert SMALL.nearest(path) == meant
