"""Tests of tests.supply_chain.licences: which licences pass, and which are named."""

from __future__ import annotations

from typing import Any

import pytest

from tests.supply_chain.licences import LicenceRules, is_allowed, read_rules, refused, unused

RULES = LicenceRules(
    frozenset({"MIT", "0BSD"}), {"old name": "MIT"}, {"taken": {"licence": "MPL-2.0", "why": "a file"}}
)


def component(name: str, *licences: str) -> dict[str, Any]:
    """Give a component as the bill of materials has it."""
    return {"name": name, "version": "1", "licenses": [{"license": {"name": text}} for text in licences]}


@pytest.mark.parametrize(
    ("stated", "passes"),
    [
        (["MIT"], True),
        (["MIT OR GPL-3.0-only"], True),
        (["GPL-3.0-only OR (0BSD AND MIT)"], True),
        (["MIT AND 0BSD"], True),
        (["MIT AND GPL-3.0-only"], False),
        (["MIT", "GPL-3.0-only"], False),
        (["GPL-3.0-only"], False),
        (["a text of somebody's own"], False),
        (["MIT WITH"], False),
        ([], False),
    ],
)
def test_an_expression_passes_where_allowed_licences_suffice(stated: list[str], passes: bool) -> None:
    """One side of an `OR` is enough, an `AND` needs both; without a licence, nothing passes."""
    assert is_allowed(stated, RULES) is passes


def test_a_library_with_another_licence_is_named_unless_it_has_an_exception() -> None:
    """The text names the package and its licence; older names count as the identifier they mean."""
    components = [
        component("fine", "old name"),
        component("taken", "MPL-2.0"),
        component("new", "AGPL-3.0-only"),
        component("silent"),
    ]
    assert [text.partition(";")[0] for text in refused(components, RULES)] == [
        "new 1: AGPL-3.0-only",
        "silent 1: states no licence",
    ]
    assert unused(components, RULES) == []
    assert unused([component("taken", "MIT")], RULES) == ["taken"]


def test_each_exception_has_a_licence_and_a_reason() -> None:
    """An exception without a reason is none."""
    exceptions = read_rules().exceptions
    assert exceptions
    assert [
        name
        for name, entry in exceptions.items()
        if set(entry) != {"licence", "why"} or not all(entry.values())
    ] == []
