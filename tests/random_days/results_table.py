"""The table of a run: what was flown and judged of each kind, and which findings and notices were false.

Takes: `DayResult`s.  Gives: a table with one row for each kind, and their sum.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.box import SIMPLE_HEAD
from rich.table import Table

from tests.random_days.judged_day import DayResult
from tests.random_days.kinds import NORMAL, OTHERWISE

WIDTH = 150
HEADS = (
    "flights",
    "seeds",
    "hours",
    "frames",
    "gates",
    "needs",
    "judged",
    "not verifiable",
    "false findings",
    "false notices",
    "s each",
)


def table_of(results: Iterable[DayResult]) -> Table:
    """One row for each kind, then all together."""
    by_kind: dict[str, list[DayResult]] = {}
    for result in results:
        by_kind.setdefault(result.kind, []).append(result)
    table, order = Table("kind", box=SIMPLE_HEAD), [*NORMAL, *OTHERWISE]
    for head in HEADS:
        table.add_column(head, justify="right")
    for kind in sorted(by_kind, key=lambda name: (order.index(name) if name in order else len(order), name)):
        table.add_row(kind, *_cells(by_kind[kind]))
    table.add_section()
    table.add_row("all", *_cells([result for these in by_kind.values() for result in these]))
    return table


def _cells(these: Sequence[DayResult]) -> list[str]:
    """The sums over some flights."""
    if not these:
        return []
    seeds = sorted(result.seed for result in these)
    needs, judged = sum(result.needs for result in these), sum(result.judged for result in these)
    sums = [sum(r.doubts for r in these), sum(r.findings for r in these), sum(r.notices for r in these)]
    return [
        str(len(these)),
        f"{seeds[0]} to {seeds[-1]}",
        f"{sum(result.flown_s for result in these) / 3600.0:.1f}",
        str(sum(result.frames for result in these)),
        str(sum(result.gates for result in these)),
        str(needs),
        f"{judged / needs:.1%}" if needs else "",
        *map(str, sums),
        f"{sum(result.took_s for result in these) / len(these):.1f}",
    ]
