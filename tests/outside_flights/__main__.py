"""Table of recorded flights: `python -m tests.outside_flights [SAMPLE ...]`.

Takes: names of samples, by default every one of the library that is shorter than a day.  Gives: one line for each: the agreement with
OpenAP, the seconds by label, the notices; then that of all together.  The exit code is 1 where it is below the aim.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from tests.outside_flights.comparison import Comparison, compare, judge_flight
from tests.outside_flights.samples import read, sample_names

AIM = 0.95
"""Share of the time in which both should have the same label, where both can tell; chosen by us, no source."""
LONGEST_S = 86_400
"""No flight lasts a day: a longer sample is several flights."""
console = Console(width=140)


def main(names: Sequence[str]) -> int:
    """Judge and compare each sample."""
    every = Counter[tuple[str, str]]()
    table = Table("sample", "s", "compared", "same label", "theirs/ours, s, where not the same", "notices")
    for name in names or sample_names():
        flight = read(name)
        if not names and len(flight.times_s) > LONGEST_S:
            continue
        judged = judge_flight(flight)
        found = compare(flight, judged)
        every += found.seconds
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
    together = Comparison(every)
    console.print(
        f"all: {together.agreement:.1%} of {together.compared_s} s have the same label; the aim is {AIM:.0%}"
    )
    return 0 if together.agreement >= AIM else 1


def _differences(found: Comparison) -> str:
    """Seconds of each pair of labels that differ, or are not compared."""
    pairs = sorted(found.seconds.items(), key=lambda pair: -pair[1])
    return ", ".join(f"{theirs}/{ours} {number}" for (theirs, ours), number in pairs if theirs != ours)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
