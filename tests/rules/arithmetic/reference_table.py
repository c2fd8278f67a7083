"""Prints the arithmetic beside its references: per theme and source the number of checks and the largest difference.

    python -m tests.rules.arithmetic.reference_table

Takes: nothing.  Gives: a table on the screen.
"""

from __future__ import annotations

import sys
from collections import defaultdict

from tests.rules.arithmetic.references import CHECKS, Check


def rows() -> list[tuple[str, str, str, str, str]]:
    """Rows of theme, source, number of checks, largest difference and its tolerance."""
    groups: dict[tuple[str, str, str], list[Check]] = defaultdict(list)
    for check in CHECKS:
        groups[check.theme, check.source, check.unit].append(check)
    table = []
    for (theme, source, unit), checks in groups.items():
        worst = max(checks, key=lambda check: check.apart)
        table.append(
            (theme, str(len(checks)), f"{worst.apart:.2g} {unit}", f"{worst.tolerance:.2g} {unit}", source)
        )
    return table


def lines() -> list[str]:
    """Lines of the table."""
    head = ("arithmetic", "checks", "largest difference", "allowed", "reference")
    table = [head, *rows()]
    widths = [max(len(row[column]) for row in table) for column in range(len(head))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in table
    ]


if __name__ == "__main__":
    sys.stdout.write("\n".join(lines()) + "\n")
