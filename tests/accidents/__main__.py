"""The accident table: `python -m tests.accidents [variants|further]` prints case, gate, finding and lead time.

Takes: nothing, or the name of another file of cases.  Gives: the table, 100 columns wide; the exit code is 1 where a case was not caught.
"""

from __future__ import annotations

import sys

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table

from tests.accidents.accident_case import Case, load_cases
from tests.accidents.branch_runner import FlightOutcomes, Outcome, judge
from tests.accidents.clean_flight import record

WIDTH = 100


def lead(case: Case, outcome: Outcome) -> float | None:
    """Time from the case's own finding to the gate's entry; None without that finding."""
    item = next(iter(case.finds))
    found = any(finding.item == item for finding in outcome.findings)
    return outcome.lead_s(item) if found else None


def main(name: str) -> int:
    """Fly, judge and print."""
    cases, judged, caught = load_cases(f"{name}.yaml"), dict[str, FlightOutcomes](), 0
    for flight in dict.fromkeys(case.flight for case in cases):
        judged[flight] = judge(record(flight), [case for case in cases if case.flight == flight])
    table = Table(title="Accidents", box=SIMPLE_HEAD, pad_edge=False)
    table.add_column("case", width=10)
    table.add_column("error", width=28)
    table.add_column("gate", width=10)
    table.add_column("finding (and how many more)", width=34, overflow="fold")
    table.add_column("lead", width=8, justify="right")
    for case in cases:
        outcome = judged[case.flight].outcomes[case.id]
        lead_s, item = lead(case, outcome), next(iter(case.finds))
        more = len({finding.item for finding in outcome.findings} - {item})
        caught += (lead_s or 0.0) > 0.0
        finding = f"{item}: {case.finds[item]}" + (f" (+{more})" if more else "")
        lead_text = "not caught" if lead_s is None else f"{lead_s:.1f} s"
        reported = f"{case.title} [{case.report}; {case.source}]" if case.report else case.title
        table.add_row(case.id.replace("_", " "), reported, case.gate, finding, lead_text)
    console = Console(width=WIDTH)
    console.print(table)
    clean = {flight: (len(j.notices), len(j.findings)) for flight, j in judged.items()}
    console.print(f"{caught} of {len(cases)} caught before the phase.")
    for flight, (notices, findings) in clean.items():
        console.print(f"The same {flight} without an overlay: {notices} notices, {findings} findings.")
    return 0 if caught == len(cases) and not any(map(sum, clean.values())) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1] if sys.argv[1:] else "cases"))
