"""The table of usual units gives exactly what Pint gives."""

from __future__ import annotations

import pytest

from rules.signals import units
from rules.signals.unit_table import TABLE


def outcome(unit: str, to: str, *, delta: bool, pint: bool) -> tuple[float, float] | str:
    """Give the conversion, or the text of its fault."""
    convert = units._pint_conversion if pint else units.linear_conversion
    try:
        return convert(unit, to, delta=delta)
    except units.UnitFault as fault:
        return str(fault)


@pytest.mark.parametrize("unit", TABLE)
def test_each_conversion_of_the_table_is_that_of_pint(unit: str) -> None:
    """Factor and offset agree to the last digit, for values and differences; so do the faults."""
    for to in TABLE:
        for delta in (False, True):
            assert outcome(unit, to, delta=delta, pint=False) == outcome(unit, to, delta=delta, pint=True), to
        assert units.compatible(unit, to) == (units._parse_unit(unit)[1] == units._parse_unit(to)[1]), to


def test_the_common_units_are_in_the_table() -> None:
    """A unit that hints suggest is in the table."""
    assert set(units.COMMON_UNITS) <= TABLE.keys()


def test_other_units_are_those_of_pint() -> None:
    """A unit outside the table converts to one inside it, and back."""
    assert "mile" not in TABLE
    assert units.linear_conversion("mile", "km") == (1.609344, 0.0)
    assert units.linear_conversion("km", "mile") == (0.6213711922373, 0.0)
    assert units.compatible("mile", "NM")
    assert not units.compatible("mile", "kg")
