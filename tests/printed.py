"""Printing of the values of random tests as code that creates them.

Hypothesis does so for most values.  The exceptions are members of enumerations that are strings or numbers as well, and
our named tuples with such members.  A number that is not finite prints as `nan` or `inf`, which `math` has.

Takes: nothing.  Gives: `print_as_code`, which registers the printers with Hypothesis.
"""

from __future__ import annotations

from enum import Enum

from hypothesis.vendor.pretty import RepresentationPrinter, for_type_by_name

from rules.signals.model import Sample


def print_as_code() -> None:
    """Register the printers."""
    for_type_by_name("enum", "StrEnum", _member)
    for_type_by_name("enum", "IntEnum", _member)
    for_type_by_name(Sample.__module__, Sample.__name__, _sample)


def _member(value: Enum, printer: RepresentationPrinter, cycle: bool) -> None:  # noqa: ARG001 - as Hypothesis calls it
    """Print a member by its name."""
    printer.text(f"{type(value).__name__}.{value.name}")


def _sample(value: Sample, printer: RepresentationPrinter, cycle: bool) -> None:  # noqa: ARG001
    """Print a sample as the call that creates it."""
    printer.repr_call("Sample", (), value._asdict())
