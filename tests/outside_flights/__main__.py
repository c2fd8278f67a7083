"""Table of recorded flights: `python -m tests.outside_flights [SAMPLE ...]`.

Takes: names of samples, by default every one of the library that is shorter than a day.  Gives: one line for each: the agreement with
OpenAP, the seconds by label, the notices; then that of all together, of each label, and of each half of the samples.  The
exit code is 1 where it is below the aim.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from tests.outside_flights.comparison import COMPARED, Comparison, compare, judge_flight
from tests.outside_flights.samples import Trajectory, read, sample_names

AIM = 0.95
"""Share of the time in which both should have the same label, where both can tell; chosen by us, no source."""
LONGEST_S = 86_400
"""No flight lasts a day: a longer sample is several flights."""
HALVES = ("odd numbers, with which the rules were made", "even numbers")
console = Console(width=140)


def main(names: Sequence[str]) -> int:
    """Judge and compare each sample."""
    halves = {half: Counter[tuple[str, str]]() for half in HALVES}
    each: list[float] = []
    table = Table("sample", "s", "compared", "same label", "theirs/ours, s, where not the same", "notices")
    for name in names or sample_names():
        flight = read(name)
        if not names and len(flight.times_s) > LONGEST_S:
            continue
        found = _row(table, flight)
        halves[HALVES[int(name.split()[1]) % 2 == 0]] += found.seconds
        each += [found.agreement] if found.compared_s else []
    console.print(table)
    together = Comparison(Counter(halves[HALVES[0]]) + halves[HALVES[1]])
    console.print(_by_label(together))
    for half, seconds in halves.items():
        console.print(f"{half}: {Comparison(seconds).agreement:.1%} of {Comparison(seconds).compared_s} s")
    console.print(f"mean of the flights: {sum(each) / max(1, len(each)):.1%}")
    console.print(
        f"all: {together.agreement:.1%} of {together.compared_s} s have the same label; the aim is {AIM:.0%}"
    )
    return 0 if together.agreement >= AIM else 1


def _row(table: Table, flight: Trajectory) -> Comparison:
    """Add the line of a flight to the table."""
    judged = judge_flight(flight)
    found = compare(flight, judged)
    notices = ", ".join(sorted({notice.item for notice in judged.notices}))
    differences = _differences(found)
    compared, same = f"{found.compared_s} s", f"{found.agreement:.1%}"
    table.add_row(flight.name, str(len(flight.times_s)), compared, same, differences, notices or "none")
    return found


def _differences(found: Comparison) -> str:
    """Seconds of each pair of labels that differ, or are not compared."""
    pairs = sorted(found.seconds.items(), key=lambda pair: -pair[1])
    return ", ".join(f"{theirs}/{ours} {number}" for (theirs, ours), number in pairs if theirs != ours)


def _by_label(found: Comparison) -> Table:
    """Make the table of seconds by their label and ours."""
    table = Table("theirs", *(f"ours {label}" for label in COMPARED), "same label")
    for theirs in sorted(
        {label for label, _ in found.seconds}, key=lambda label: (label not in COMPARED, label)
    ):
        seconds = [str(found.seconds[theirs, ours]) for ours in COMPARED]
        same = f"{found.agreement_on(theirs):.1%}" if theirs in COMPARED else "not compared"
        table.add_row(theirs, *seconds, same)
    return table


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
