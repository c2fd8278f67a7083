"""Tables of a pack: data of the aeroplane as points, checked and made into functions.

Takes: the forms of `tables:`.  Gives: a `FigureFunction` for each valid table.
"""

from __future__ import annotations

from rules.arithmetic.domain import DomainError
from rules.arithmetic.lookup_table import LookupTable
from rules.arithmetic.step_table import StepTable
from rules.faults import Fault
from rules.packs.figure_functions import FigureFunction, table_function
from rules.packs.model import TABLE_PREFIX
from rules.packs.schema import TableForm
from rules.packs.validated import FilledForm
from rules.signals import units


def build_table(name: str, filled: FilledForm[TableForm], faults: list[Fault]) -> FigureFunction | None:
    """Build the function of a table; None, with faults, where the table is invalid.

    Args:
        name: Id of the table.
        filled: Validated entry.
        faults: List to which faults are added.
    """
    form, entry = filled.form, filled.entry
    before = len(faults)
    for key, unit in (("x", form.x), ("y", form.y), ("gives", form.gives)):
        if unit is not None and not units.is_known(unit):
            hint = units.unit_hint(unit)
            faults.append(
                Fault(
                    entry.field_location(key).place(), f"unknown unit {unit}", "a unit such as kg or kt", hint
                )
            )
    try:
        table = _table(form)
    except DomainError as refused:
        faults.append(
            Fault(entry.location.place(key=True), f"table {name}: {refused.what}", refused.expected)
        )
        return None
    if table is None:
        expected = (
            "points: [[x, value], ...] or steps: [[x, value], ...]"
            if form.y is None
            else "columns: [y, ...] and rows: [[x, value, ...], ...]"
        )
        faults.append(
            Fault(entry.location.place(key=True), f"table {name} does not have its values", expected)
        )
        return None
    sides = (form.x,) if form.y is None else (form.x, form.y)
    return (
        table_function(f"{TABLE_PREFIX}{name}", table, sides, form.gives) if len(faults) == before else None
    )


TableData = tuple[tuple[float, ...], tuple[float, ...], tuple[tuple[float, ...], ...]]


def _table(form: TableForm) -> LookupTable | StepTable | None:
    """Make the table; None where the form has not the values of exactly one kind of table."""
    if form.steps is not None:
        others = (form.y, form.points, form.columns, form.rows)
        if any(other is not None for other in others) or any(len(step) != 2 for step in form.steps):
            return None
        return StepTable(tuple(step[0] for step in form.steps), tuple(step[1] for step in form.steps))
    shape = _one_dimension(form) if form.y is None else _two_dimensions(form)
    return None if shape is None else LookupTable(*shape)


def _one_dimension(form: TableForm) -> TableData | None:
    """Points over x; None where the form has no valid points."""
    points = form.points
    if points is None or form.columns is not None or form.rows is not None or not all(points):
        return None
    return tuple(point[0] for point in points), (), tuple(tuple(point[1:]) for point in points)


def _two_dimensions(form: TableForm) -> TableData | None:
    """Points over x and y; None where the form has no valid columns and rows."""
    if form.columns is None or form.rows is None or form.points is not None or not all(form.rows):
        return None
    values = tuple(tuple(row[1:]) for row in form.rows)
    return tuple(row[0] for row in form.rows), tuple(form.columns), values
