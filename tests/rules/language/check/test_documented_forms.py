"""Every form in rules/language/README.md parses and passes the check, and it lists every word of the grammar.

Takes: rules/language/README.md and the grammar.  Gives: tests that fail when either changes alone.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rules.language.check import check
from rules.language.parser import parse
from tests.rules.language.condition_printer import format_condition
from tests.rules.language.scopes import SCOPES, at

LANGUAGE = Path(__file__).parents[4] / "rules" / "language"
GUIDE = (LANGUAGE / "README.md").read_text(encoding="utf-8")
GRAMMAR = (LANGUAGE / "grammar.lark").read_text(encoding="utf-8")

# The first column of the table of forms, and conditions that use every form of the row.
EXAMPLES: dict[str, tuple[str, ...]] = {
    "`TERM = != < <= > >= TERM`": (
        "code = trip.code",
        "code != trip.code",
        "speed < 80 kt",
        "speed <= 80 kt",
        "speed > 80 kt",
        "80 kt >= speed",
    ),
    "`NAME is WORD`, `is not WORD`, `is one of (A, B)`, `is not one of (A, B)`": (
        "lights.beacon is on",
        "lights.beacon is not on",
        "pack.mode is one of (auto, high)",
        "pack.mode is not one of (auto, high)",
        "papers.runway is 14L",
        "papers.runway is panel.runway",
        "papers.runway is not panel.runway",
    ),
    "`flow.KEY is met`": (
        "flow.beacon is met",
        "flow.after_start.bleed is not met",
        "checklist.before_start.1 is met",
    ),
    "`TERM in LO..HI UNIT`, `TERM in TERM..TERM`": (
        "engine.1.egt in limit.idle_egt..limit.start_egt",
        "fuel.total in trip.fuel - 50 kg..trip.fuel + 150 kg",
        "heading in track..track + 20 deg",
        "hydraulic.pressure in 2800..3200 psi",
        "heading in 350..10 deg",
        "code in 1200..1277",
    ),
    "`TERM within TERM of TERM`": (
        "fuel.left within limit.imbalance of fuel.right",
        "fuel.total within trip.fuel * 0.02 of trip.fuel",
        "fuel.total within 150 kg of trip.fuel",
        "heading within 10 deg of limit.runway",
    ),
    "`A and B`, `A or B`, `not A`, `if A then B`, `( )`": (
        "lights.beacon is on and gear.brake is set",
        "lights.beacon is on or gear.brake is set",
        "not lights.beacon is on",
        "if lights.beacon is on then gear.brake is set",
        "(lights.beacon is on or gear.brake is set) and speed > 80 kt",
    ),
    "`A unless B`": (
        "lights.beacon is on unless gear.brake is set",
        "if lights.beacon is on then gear.brake is set unless speed > 80 kt or lights.beacon is off",
    ),
    "`COND for N s`": (
        "lights.beacon is on for 2 s",
        "lights.beacon is on for 1.5 min",
        "speed > 80 kt for 1 h",
    ),
    "`call.X happened`, `call.X by SPEAKER happened`, `(COND) happened`": (
        "call.cleared happened",
        "call.cleared by captain happened",
        "call.cleared by first_officer happened within the last 30 s",
        "(speed > 80 kt) happened",
    ),
    "`NAME became WORD`, `(COND) became true`": ("gear.brake became set", "(speed > 80 kt) became true"),
    "`NAME changed`": (
        "pack.mode changed within the last 10 s",
        "not pack.mode changed within the last 10 s",
        "count(gear.autobrake changed, 60 s) <= 2",
        "code changed after call.cleared happened",
        "any engine.*.lever changed within the last 5 s",
    ),
    "`TERM swept LO..HI UNIT`, `TERM swept TERM..TERM`": (
        "elevator swept limit.full_left..95 %",
        "elevator swept -95..95 %",
        "fuel.left + fuel.right swept 5..20 kg",
    ),
    "`EVENT within the last N s`": (
        "call.cleared happened within the last 30 s",
        "gear.brake became set within the last 30 s",
        "elevator swept -95..95 % within the last 5 min",
    ),
    "`EVENT before EVENT`": ("call.cleared happened before gear.brake became released",),
    "`EVENT after EVENT`": ("gear.brake became set after (speed > 80 kt) happened",),
    "`EVENT within N s after EVENT`, `COND within N s after EVENT`": (
        "gear.brake became set within 60 s after call.cleared happened",
        "lights.beacon is off within 3 min after gear.brake became set",
        "(lights.beacon is off and lights.strobe is off) within 5 s after (speed > 80 kt) happened",
        "pack.mode changed within 10 s after call.cleared happened",
    ),
    "`COND since EVENT`": ("lights.beacon is on since call.cleared happened",),
    "TERM: `N UNIT`, `NAME`, `T + T`, `T - T`, `T * N`, `T / N`, `T * N UNIT/UNIT`, `(T)`": (
        "fuel.left + fuel.right > 5 kg",
        "fuel.left - fuel.right > 5 kg",
        "fuel.left * 2 > fuel.total / 3",
        "fuel.total / 40 kg/min > 30 min",
        "speed * 10 ft/kt < altitude",
        "(fuel.left + fuel.right) / 2 - 5 kg > 20 kg",
    ),
    "`highest of`, `lowest of`, `average of` `NAME`, `(T)` or `(T, T)`": (
        "highest of engine.*.egt < limit.start_egt",
        "highest of engine.*.n2 - lowest of engine.*.n2 < 5 %",
        "average of (engine.*.n2 - 5 %) > 50 %",
        "lowest of (fuel.left, fuel.right) > 500 kg",
        "highest of (engine.*.egt, air.outside) < 700 degC",
        "engine.*.n2 within 5 % of average of engine.*.n2",
        "lowest(highest of engine.*.n2, 5 s) > 50 %",
    ),
    "`size of (T)`": (
        "size of (fuel.left - fuel.right) <= limit.imbalance",
        "size of (engine.1.egt - engine.2.egt) < 30 degC",
        "size of (change(heading, 10 s)) < 15 deg",
    ),
    "`highest(T, N s)`, `lowest(T, N s)`, `average(T, N s)`, `change(T, N s)`, `rate(T, N s)`": (
        "average(engine.1.n2, 10 s) > 50 %",
        "highest(engine.1.egt, 60 s) < limit.start_egt",
        "lowest(hydraulic.pressure, 60 s) > 2800 psi",
        "change(fuel.total, 1 min) < -5 kg",
        "rate(altitude, 5 s) > 500 ft/min",
        "rate(altitude, 5 s) > 8 ft/s",
        "change(heading, 5 s) > 5 deg",
    ),
    "`count(EVENT, N s)`": ("count(gear.brake became set, 60 s) >= 2",),
    "`*` as one part of a name": ("pump.*.switch is on and pump.*.low_pressure is off",),
    "`at most N of COND`, `at least N of COND`, `exactly N of COND`, `at most N of (A, B)`": (
        "at most 1 of (pump.*.switch is off)",
        "at least 2 of pump.*.switch is on",
        "exactly 1 of (engine.*.lever is open)",
        "exactly 1 of (lights.beacon is on, gear.brake is set, speed > 80 kt)",
        "at most 1 of (pump.*.switch is off and pump.*.low_pressure is off)",
        "(at most 1 of pump.*.switch is off) for 10 s",
    ),
    "`any COND`": ("any engine.*.n2 > 5 %", "any (engine.*.n2 > 5 % and engine.*.lever is open)"),
}


def _forms() -> str:
    """Give the sections of the guide on forms, names, units and numbers."""
    return GUIDE[GUIDE.index("## Form\n") : GUIDE.index("## Meaning\n")]


def _rows() -> list[str]:
    """Give the first column of the table of forms."""
    return _first_column(_forms().split("## One")[0], "form")


def _first_column(text: str, heading: str) -> list[str]:
    """Give the first column of a table, without its heading."""
    rows = [line.split(" | ")[0].removeprefix("| ") for line in text.splitlines() if line.startswith("| ")]
    return [row for row in rows if row != heading]


def test_every_form_of_the_guide_has_examples() -> None:
    """The rows of the guide's table are those of EXAMPLES."""
    assert _rows() == list(EXAMPLES)


@pytest.mark.parametrize("text", [text for texts in EXAMPLES.values() for text in texts])
def test_every_documented_form_is_checked(text: str) -> None:
    """Each form of the guide passes the check."""
    check(text, SCOPES["small"], at(text))


def test_examples_of_the_wildcard_parse() -> None:
    """The conditions that explain the `*` are conditions."""
    rows = _first_column(_forms().split("## One `*` is one thing\n")[1], "condition")
    assert len(rows) >= 5
    for row in rows:
        parse(row.strip("`"))


def test_first_examples_parse() -> None:
    """The first examples parse, and are in the form that the printer writes."""
    chapter = GUIDE[GUIDE.index("## Examples\n") : GUIDE.index("## Form\n")]
    examples = chapter.split("```")[1].strip().splitlines()
    assert len(examples) >= 5
    for text in examples:
        assert format_condition(parse(text)) == text


def test_every_word_of_the_grammar_is_in_the_guide() -> None:
    """The guide lists every operator and keyword of the grammar."""
    words = {
        word
        for words in re.findall(r"^\w+\.\d: /\(?([a-z|]+)", GRAMMAR, re.MULTILINE)
        for word in words.split("|")
    }
    signs = set(re.findall(r'"([^"]+)"', GRAMMAR))
    assert {"if", "since", "highest"} <= words
    assert {"<=", ".."} <= signs
    quoted = " ".join(re.findall(r"`[^`]+`", _forms()))
    assert {word for word in words if not re.search(rf"\b{word}\b", quoted)} == set()
    assert {sign for sign in signs if sign not in quoted} == set()
