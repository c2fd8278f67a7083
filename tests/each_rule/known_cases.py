"""Rules that a case of the tests finds: each case lists all that is found, so that one with a single rule finds it alone.

The tests of `tests/accidents` and `tests/other_days` check these lists, so a rule with such a case needs no search.

Takes: the files of cases.  Gives: `KnownCase`s by pack and rule.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import NamedTuple

from rules.packs.model import FindingKind, declared_id
from tests.accidents.accident_case import Case, load_cases

TESTS = Path(__file__).parents[1]
FILES = {
    "accidents": ("cases.yaml", "variants.yaml", "further.yaml"),
    "other_days": tuple(sorted(path.name for path in (TESTS / "other_days").glob("*.yaml"))),
}
PACK_OF = {"sector": "twin_jet", "circuit": "trainer"}


class KnownCase(NamedTuple):
    """A case by its file and id, and the other rules that it finds."""

    file: str
    case: str
    others: tuple[str, ...]


def _cases() -> Iterator[tuple[str, Case]]:
    """Every case with the name of its file."""
    for folder, names in FILES.items():
        for name in names:
            yield from ((f"{folder}/{name}", case) for case in load_cases(name, TESTS / folder))


@cache
def known_cases() -> Mapping[tuple[str, str], KnownCase]:
    """The case of each rule with the fewest others, by pack and rule; a doubt is no finding of a rule."""
    best: dict[tuple[str, str], KnownCase] = {}
    for file, case in _cases():
        found = {
            declared_id(item) for item, kind in case.finds.items() if kind is not FindingKind.NOT_VERIFIABLE
        }
        for rule in found:
            known = KnownCase(file, case.id, tuple(sorted(found - {rule})))
            key = (PACK_OF[case.flight], rule)
            if key not in best or len(known.others) < len(best[key].others):
                best[key] = known
    return best


def found_alone_in_a_case(pack: str, rule: str) -> KnownCase | None:
    """The case in which only this rule speaks, if there is one."""
    known = known_cases().get((pack, declared_id(rule)))
    return known if known is not None and not known.others else None
