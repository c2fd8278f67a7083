"""A slip for each rule: `python -m tests.each_rule [PACK ...]` prints each with what is found, and the totals.

A saved slip is laid over its flight again; one is searched only for a rule whose saved slip is missing or not found as before.
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
from tests.each_rule.known_cases import found_alone_in_a_case, known_cases
from tests.each_rule.reasons import reasons
from tests.each_rule.saved_slips import SavedSlip, save_slips, saved_slips
from tests.each_rule.trials import Trial, find_slips, play_again, rules_of
from tests.shipped import shipped

HEADS = ("rule", "flight", "from", "slip", "level", "sentence", "found besides")
ALONE, IN_CASE, BESIDES, ELSEWHERE, REASON, MISSING = (
    "found alone",
    "found alone in a case",
    "found, and others with it",
    "slip flown elsewhere",
    "no slip, with a reason",
    "not found",
)
OUTCOMES = (ALONE, IN_CASE, BESIDES, ELSEWHERE, REASON, MISSING)


def first_matches(pack: str) -> list[Item | Watch]:
    """Every declared rule of a pack by its first match."""
    found: dict[str, Item | Watch] = {}
    for rule in rules_of(shipped(pack)[0]):
        found.setdefault(declared_id(rule.id), rule)
    return list(found.values())


def slips_of(pack: str, rules: Sequence[Item | Watch], saved: Mapping[str, SavedSlip]) -> dict[str, Trial]:
    """The best slip of each of these rules that no case finds alone: the saved one, or one that is searched now."""
    searched = [rule for rule in rules if found_alone_in_a_case(pack, rule.id) is None]
    best = replayed(pack, searched, saved)
    missed = [
        rule for rule in searched if not (rule.id in best and saved[rule.id].is_as_saved(best[rule.id]))
    ]
    for name in FLIGHTS[pack]:
        best = find_slips(clean_flight(name), missed, best)
    return best


def replayed(pack: str, rules: Iterable[Item | Watch], saved: Mapping[str, SavedSlip]) -> dict[str, Trial]:
    """Lay the saved slips over their flights again."""
    known, found = [rule for rule in rules if rule.id in saved], dict[str, Trial]()
    for name in FLIGHTS[pack]:
        if any(saved[rule.id].flight == name for rule in known):
            flight = clean_flight(name)
            tasks = [task for rule in known if (task := saved[rule.id].task(flight, rule)) is not None]
            found |= {trial.rule: trial for trial in play_again(flight, tasks)}
    return found


def outcome_of(pack: str, rule: str, trial: Trial | None) -> str:
    """The column of the totals to which a rule belongs."""
    if found_alone_in_a_case(pack, rule) is not None:
        return IN_CASE
    if trial is not None and trial.sentence:
        return ALONE if trial.alone else BESIDES
    reason = reasons().get(declared_id(rule))
    if reason is not None:
        return ELSEWHERE if reason.flown else REASON
    return ELSEWHERE if (pack, declared_id(rule)) in known_cases() else MISSING


def rows_of(pack: str, rules: Iterable[Item | Watch], slips: Mapping[str, Trial]) -> list[tuple[str, ...]]:
    """Rows of the table."""
    rows: list[tuple[str, ...]] = []
    for rule in rules:
        trial = slips.get(rule.id)
        if trial is None or not trial.sentence:
            rows.append((code(rule.id), "", "", _flown_in(pack, rule.id), "", "", ""))
            continue
        besides = ", ".join(trial.others)
        begins = f"{trial.begin_s:.0f} s"
        rows.append((code(rule.id), trial.flight, begins, trial.slip, trial.level, trial.sentence, besides))
    return rows


def _flown_in(pack: str, rule: str) -> str:
    """Where the slip of a rule is that was not searched or not found, or why there is none."""
    known, reason = known_cases().get((pack, declared_id(rule))), reasons().get(declared_id(rule))
    if known is not None:
        return f"{known.case} of tests/{known.file}"
    return reason.text if reason is not None else "NOT FOUND"


def totals_table(totals: Mapping[str, Counter[str]]) -> str:
    """How many rules of each pack have which outcome, as a table for a note."""
    rows = [(outcome, *(str(totals[pack][outcome]) for pack in totals)) for outcome in OUTCOMES]
    sums = ("rules", *(str(sum(totals[pack].values())) for pack in totals))
    return table(("outcome", *totals), [*rows, sums])


def main(arguments: Sequence[str]) -> int:
    """Try the rules and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.each_rule")
    parser.add_argument("--every", type=int, default=1, help="try each n-th rule")
    parser.add_argument("--search", action="store_true", help="search every slip anew")
    parser.add_argument(
        "--write", action="store_true", help="store the slips, for the next run and the tests"
    )
    parser.add_argument("pack", nargs="*", help=", ".join(FLIGHTS))
    given, began_s, missing = parser.parse_args(arguments), time.monotonic(), list[str]()
    totals: dict[str, Counter[str]] = {}
    for pack in given.pack or FLIGHTS:
        rules = first_matches(pack)[:: given.every]
        saved = saved_slips(pack)
        slips = slips_of(pack, rules, {} if given.search else saved)
        if given.write:
            found = {
                rule: SavedSlip.of(trial, clean_flight(trial.flight))
                for rule, trial in slips.items()
                if trial.sentence
            }
            declared = {rule.id for rule in first_matches(pack)} - {rule.id for rule in rules}
            save_slips(pack, {rule: slip for rule, slip in saved.items() if rule in declared} | found)
        sys.stdout.write(f"\n{pack}\n\n{table(HEADS, rows_of(pack, rules, slips))}\n")
        outcomes = {rule.id: outcome_of(pack, rule.id, slips.get(rule.id)) for rule in rules}
        totals[pack] = Counter(outcomes.values())
        missing += [rule for rule, outcome in outcomes.items() if outcome == MISSING]
    sys.stdout.write(f"\n{totals_table(totals)}\n")
    sys.stdout.writelines(f"not found: {rule}\n" for rule in missing)
    sys.stdout.write(f"{time.monotonic() - began_s:.0f} s\n")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
