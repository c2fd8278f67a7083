"""Prints what each place says of three gates, with 20 %, 60 % and all needs judged.

python -m tests.gate_reports          the Take-off alone
python -m tests.gate_reports --all    all three gates
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.gate_reports.collect import GATES, SWITCHES, ReportedFlight, excerpts

if __name__ == "__main__":
    for sent in (2, 6, 10):
        for off in (0, 1):
            with tempfile.TemporaryDirectory() as folder:
                flight = ReportedFlight(Path(folder), sent, off)
            judged = f"{sent} of {len(SWITCHES)} judged"
            for gate in GATES if "--all" in sys.argv else ["takeoff"]:
                sys.stdout.write(
                    f"\n{GATES[gate]}: {judged}, {off} left off; page: {flight.looks[f'{gate}, page']}\n"
                )
                for place, text in excerpts(flight, gate, judged):
                    sys.stdout.write(f"  {place:22} {text}\n")
