"""A slip for each rule: `python -m tests.each_rule [PACK ...]` prints each with what is found, and the totals.

`--every 10` tries each tenth rule only.  A rule is an item or a watch; of one with a `*` the first match is tried.

Takes: words of the command line.  Gives: a table; the exit code is 1 where a rule is not found and has no reason.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from rules.packs.model import Item, Watch, declared_id
from tests.documents.markdown import code, table
from tests.each_rule.clean_flights import FLIGHTS, clean_flight
from tests.each_rule.reasons import reasons
from tests.each_rule.trials import Trial, find_slips, rules_of
from tests.shipped import shipped

HEADS = ("rule", "flight", "from", "slip", "level", "sentence", "found besides")
ALONE, BESIDES, ELSEWHERE, REASON, MISSING = (
    "found alone",
    "found, and others with it",
    "slip flown elsewhere",
    "no slip, with a reason",
    "not found",
)


def first_matches(pack: str) -> list[Item | Watch]:
    """Every declared rule of a pack by its first match."""
    found: dict[str, Item | Watch] = {}
    for rule in rules_of(shipped(pack)[0]):
        found.setdefault(declared_id(rule.id), rule)
    return list(found.values())


def slips_of(pack: str, rules: Sequence[Item | Watch]) -> Mapping[str, Trial]:
    """The best slip of each of these rules, in the flights of the pack."""
    best: Mapping[str, Trial] = {}
    for name in FLIGHTS[pack]:
        best = find_slips(clean_flight(name), rules, best)
    return best


def outcome_of(rule: str, trial: Trial | None) -> str:
    """The column of the totals to which a rule belongs."""
    if trial is not None and trial.sentence:
        return ALONE if trial.alone else BESIDES
    reason = reasons().get(declared_id(rule))
    return MISSING if reason is None else ELSEWHERE if reason.flown else REASON


def rows_of(rules: Iterable[Item | Watch], slips: Mapping[str, Trial]) -> list[tuple[str, ...]]:
    """Rows of the table."""
    rows: list[tuple[str, ...]] = []
    for rule in rules:
        trial, reason = slips.get(rule.id), reasons().get(declared_id(rule.id))
        if trial is None or not trial.sentence:
            rows.append((code(rule.id), "", "", reason.text if reason else "NOT FOUND", "", "", ""))
            continue
        besides = ", ".join(trial.others)
        begins = f"{trial.begin_s:.0f} s"
        rows.append((code(rule.id), trial.flight, begins, trial.slip, trial.level, trial.sentence, besides))
    return rows


def main(arguments: Sequence[str]) -> int:
    """Try the rules and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.each_rule")
    parser.add_argument("--every", type=int, default=1, help="try each n-th rule")
    parser.add_argument("pack", nargs="*", help=", ".join(FLIGHTS))
    given, began_s, missing = parser.parse_args(arguments), time.monotonic(), list[str]()
    for pack in given.pack or FLIGHTS:
        rules = first_matches(pack)[:: given.every]
        slips = slips_of(pack, rules)
        sys.stdout.write(f"\n{pack}\n\n{table(HEADS, rows_of(rules, slips))}\n")
        totals = Counter(outcome_of(rule.id, slips.get(rule.id)) for rule in rules)
        sys.stdout.writelines(f"{outcome}: {count}\n" for outcome, count in totals.items())
        sys.stdout.write(f"{len(rules)} rules\n")
        missing += [rule.id for rule in rules if outcome_of(rule.id, slips.get(rule.id)) == MISSING]
    sys.stdout.writelines(f"not found: {rule}\n" for rule in missing)
    sys.stdout.write(f"{time.monotonic() - began_s:.0f} s\n")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
