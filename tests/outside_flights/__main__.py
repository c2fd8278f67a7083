"""Table of recorded flights: `python -m tests.outside_flights [SAMPLE ...]`.

Takes: names of samples, by default every one of the library that is shorter than a day.  Gives: one line for each: the agreement with
OpenAP, the seconds by label, the notices.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from tests.outside_flights.comparison import Comparison, compare, judge_flight
from tests.outside_flights.samples import read, sample_names

LONGEST_S = 86_400
"""No flight lasts a day: a longer sample is several flights."""
console = Console(width=140)


def main(names: Sequence[str]) -> int:
    """Judge and compare each sample."""
    table = Table("sample", "s", "compared", "same label", "theirs/ours, s, where not the same", "notices")
    for name in names or sample_names():
        flight = read(name)
        if not names and len(flight.times_s) > LONGEST_S:
            continue
        judged = judge_flight(flight)
        found = compare(flight, judged)
        notices = sorted({notice.item for notice in judged.notices})
        table.add_row(
            name,
            str(len(flight.times_s)),
            f"{found.compared_s} s",
            f"{found.agreement:.1%}",
            _differences(found),
            ", ".join(notices) or "none",
        )
    console.print(table)
    return 0


def _differences(found: Comparison) -> str:
    """Seconds of each pair of labels that differ, or are not compared."""
    pairs = sorted(found.seconds.items(), key=lambda pair: -pair[1])
    return ", ".join(f"{theirs}/{ours} {number}" for (theirs, ours), number in pairs if theirs != ours)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
