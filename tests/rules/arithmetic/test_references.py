"""Every result of the arithmetic agrees with its outside reference."""

from __future__ import annotations

import pytest

from tests.rules.arithmetic.reference_table import lines
from tests.rules.arithmetic.references import CHECKS, Check


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: f"{check.theme}: {check.what}")
def test_beside_the_reference(check: Check) -> None:
    """A result equals the reference within its tolerance."""
    assert check.apart <= check.tolerance, f"{check.got} is not {check.want} {check.unit}: {check.source}"


def test_the_table_names_every_source_once_a_theme() -> None:
    """The printed table has a line for each theme and source, and a head."""
    assert len(lines()) == 1 + len({(check.theme, check.source, check.unit) for check in CHECKS})
