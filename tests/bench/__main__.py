"""`python -m tests.bench` prints speed beside the peers as a table.

`--watch` prints what each part of a whole watch costs, `--memory` prints memory over a million frames, `--rejudge` the time to judge an hour's recording again.

Takes: `--quick`, `--memory`, `--frames N`, `--rejudge`, `--watch`, `--seconds N`.  Gives: plain text of 80 columns.
"""

from __future__ import annotations

import argparse
import sys

from tests.bench import memory, rejudge, table, whole_watch
from tests.bench.flight_frames import flight_trace

_MILLION = 1_000_000
_ROUND = 2400
"""Frames of the flight that the memory run repeats: from the trip sheet to the prepared cockpit."""


def main() -> None:
    """Read the arguments and run."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer frames; takes half a minute")
    parser.add_argument("--memory", action="store_true", help="memory over a long run instead of speed")
    parser.add_argument("--rejudge", action="store_true", help="time to judge an hour's recording again")
    parser.add_argument("--frames", type=int, default=_MILLION, help="frames of the memory run")
    parser.add_argument("--watch", action="store_true", help="what each part of a whole watch costs")
    parser.add_argument("--seconds", type=float, default=30.0, help="length of each run of the whole watch")
    options = parser.parse_args()
    if options.memory:
        sys.stdout.write(f"{table.machine_text()}\n")
        memory.run(flight_trace(_ROUND), options.frames, lambda line: print(line, flush=True))  # noqa: T201
    elif options.watch:
        for line in (table.machine_text(), *whole_watch.lines(options.seconds)):
            print(line, flush=True)  # noqa: T201
    elif options.rejudge:
        for line in (table.machine_text(), *rejudge.rows(quick=options.quick)):
            print(line, flush=True)  # noqa: T201
    else:
        table.print_table(quick=options.quick)


if __name__ == "__main__":
    main()
