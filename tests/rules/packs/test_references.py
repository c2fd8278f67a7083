"""Circular references."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from rules.packs.references import cycles


def test_no_circle() -> None:
    """A graph without a circle has no circle."""
    assert cycles({"a": ["b", "c"], "b": ["c"], "c": []}) == []


def test_the_path_of_a_circle_is_shown() -> None:
    """Each member of a circle has its shortest path back to itself; an item that only leads there has none."""
    assert cycles({"x": ["a"], "a": ["b"], "b": ["c", "a"], "c": ["a"]}) == [
        ("a", "b", "a"),
        ("b", "a", "b"),
        ("c", "a", "b", "c"),
    ]


def test_an_item_that_names_itself_is_a_circle() -> None:
    """An item that names itself is a circle of one."""
    assert cycles({"a": ["a"]}) == [("a", "a")]


_NODES = "abcdef"


@given(st.dictionaries(st.sampled_from(_NODES), st.lists(st.sampled_from(_NODES), max_size=4)))
def test_circles_match_reachability(graph: dict[str, list[str]]) -> None:
    """An item is listed exactly where it can be reached from itself, by a valid path."""
    reach = {node: set(graph.get(node, [])) for node in _NODES}
    for via in _NODES:
        for node in _NODES:
            reach[node] |= reach[via] if via in reach[node] else set()
    ways = cycles(graph)
    assert {way[0] for way in ways} == {node for node in graph if node in reach[node]}
    assert all(after in graph[before] for way in ways for before, after in pairwise(way))
    assert all(way[0] == way[-1] for way in ways)
