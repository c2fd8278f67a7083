"""Prints every line of the shipped checklists with what it shows, judges, remembers and asks a person.

    python -m tests.checklists [PACK ...]

Takes: words of the command line.  Gives: one table for each checklist, in Markdown.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable

from rules.packs.load_pack import load_pack
from rules.packs.model import ChecklistLine, Pack
from tests.checklists.breaking import reading_of
from tests.checklists.read_lists import SCENARIOS
from tests.documents.markdown import code, table


def line_row(pack: Pack, line: ChecklistLine) -> tuple[str, ...]:
    """Key, challenge and answer of a line, signals that it judges, others that it reads, and what a person enters."""
    reading = reading_of(pack, line)
    judged = {name for name in reading.judged if not name.startswith("figure.")}
    others = {name for name in reading.signals if not name.startswith("figure.")} - judged
    entered = "a call or a touch" if reading.entered else ""
    return (
        code(line.id.split(".")[2]),
        line.challenge,
        line.answer,
        _names(judged),
        _names(others),
        entered,
    )


def _names(names: Iterable[str]) -> str:
    return ", ".join(sorted(names))


def main(names: Iterable[str]) -> None:
    """Print the tables of some packs."""
    for name in names:
        pack = load_pack(name)
        for checklist in pack.checklists.values():
            sys.stdout.write(f"\n{pack.id}, {checklist.title} ({checklist.id})\n\n")
            heads = ("line", "challenge", "answer", "judges", "reads beside", "entered")
            sys.stdout.write(table(heads, [line_row(pack, line) for line in checklist.lines]))


if __name__ == "__main__":
    main(sys.argv[1:] or SCENARIOS)
