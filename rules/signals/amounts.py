"""Amounts as people write them in a file: `3 s`, `8 200 kg`, `-1.5 degC`, `0..500`.

Takes: text.  Gives: numbers and unchecked units, or None where the text is not an amount.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_PLAIN = r"[+-]?(?:\d{1,3}(?:[ \u00a0\u202f]\d{3})+|\d{1,15})(?:\.\d{1,15})?"
_AMOUNT = re.compile(rf"({_PLAIN})[ \u00a0\u202f]*([^\s\d.,+-]\S{{0,39}}|1(?:/\S{{1,20}})?)?", re.ASCII)
_RANGE = re.compile(rf"({_PLAIN})\.\.({_PLAIN})", re.ASCII)
_GROUP_SPACES = str.maketrans("", "", " \u00a0\u202f")


@dataclass(frozen=True, slots=True)
class Amount:
    """Number and its unit as written, '' for none."""

    value: float
    unit: str


def parse_amount(text: str) -> Amount | None:
    """Parse number and unit; thousands may be grouped by spaces (`8 200 kg`), a decimal comma is refused."""
    found = _AMOUNT.fullmatch(text.strip())
    return Amount(_number(found[1]), found[2] or "") if found else None


def parse_range(text: str) -> tuple[float, float] | None:
    """Parse both ends of `low..high`, in the order written."""
    found = _RANGE.fullmatch(text.strip())
    return (_number(found[1]), _number(found[2])) if found else None


def comma_hint(text: str) -> str:
    """Give the hint for a comma inside a number; '' where there is none."""
    if re.search(r"\d,\d", text):
        return "decimals have a point, thousands a space: 1.5 kg, 8 200 kg"
    return ""


def _number(text: str) -> float:
    """Convert the digits, without the spaces between groups."""
    return float(text.translate(_GROUP_SPACES))
