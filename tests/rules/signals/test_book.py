"""The shipped books are complete, and every fault of a book is reported at its place."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from rules.faults import InputFaults
from rules.signals.book import BOOKS_FOLDER, load_book, load_books, parse_signals
from rules.signals.model import SignalKind, is_valid, phrase_of
from rules.signals.units import is_known
from rules.source import parse_source, read_source

SHIPPED = sorted(path.stem for path in BOOKS_FOLDER.glob("*.yaml"))


def write(folder: Path, name: str, signals: str, *, top: str = "", chapter: str = "27") -> Path:
    """Write a book with these lines in one chapter."""
    path = folder / f"{name}.yaml"
    lines = "\n".join(f"      {line}" for line in signals.strip().splitlines())
    path.write_text(
        f"book: {name}\ntitle: A book\n{top}chapters:\n  {chapter}:\n    title: One\n    signals:\n{lines}\n",
        "utf-8",
    )
    return path


def faults(path: Path) -> list[str]:
    """First line of every fault, without the folder."""
    with pytest.raises(InputFaults) as caught:
        load_book(str(path))
    return [str(fault).splitlines()[0].removeprefix(f"{path.parent}/") for fault in caught.value.faults]


# -- what we ship -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "least"), [("common", 25), ("trip", 25), ("twin_jet", 250), ("piston", 107)]
)
def test_shipped_books_have_enough(name: str, least: int) -> None:
    """Each shipped book loads: 250 signals for the twin jet, 80 of its own beside the 27 common for the piston."""
    assert len(load_book(name).signals) >= least


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_labels_differ(name: str) -> None:
    """No two signals of a book have the same label, and no label has a brace or an underscore."""
    labels = Counter(signal.label for signal in load_book(name).signals.values())
    assert [label for label, count in labels.items() if count > 1 or set(label) & set("{}_")] == []


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_signals_have_valid_values(name: str) -> None:
    """Every signal accepts its resting word or the low end of its range, and its unit is known."""
    for signal in load_book(name).signals.values():
        assert is_known(signal.unit), signal.name
        resting = signal.low if signal.is_numeric else signal.words[0] if signal.words else ""
        assert is_valid(signal, resting), signal.name


def test_shared_signals_agree() -> None:
    """Signals that piston and jet share have the same kind, unit and words."""
    jet, piston = load_book("twin_jet").signals, load_book("piston").signals
    shared = jet.keys() & piston.keys()
    assert {
        "gear.parking_brake",
        "lights.beacon",
        "controls.flap.lever",
        "electrical.battery.switch",
    } <= shared
    for name in shared:
        ours, theirs = jet[name], piston[name]
        assert (ours.kind, ours.unit) == (theirs.kind, theirs.unit), name
        assert set(theirs.words) <= set(ours.words), name


def test_braces_make_one_signal_each() -> None:
    """A name with braces makes one signal for each word, with spaces for underscores in labels."""
    signals = load_book("twin_jet").signals
    assert signals["fuel.pump.left_aft.switch"].label == "left aft fuel pump"
    assert signals["engine.2.n1"].meaning == "Low-pressure rotor speed of engine 2"
    assert signals["altimeter.first_officer.setting"].label == "first officer's altimeter setting"


def test_phrases_say_words_as_facts() -> None:
    """A phrase belongs to its word, and names the match; a word without one has none."""
    signals = load_book("twin_jet").signals
    assert phrase_of(signals["electrical.generator.2.online"], "no") == "generator 2 is not on line"
    assert phrase_of(signals["controls.slat.position"], "transit") == "slats are in transit"
    assert phrase_of(signals["controls.slat.position"], "extended") == ""
    assert phrase_of(signals["lights.beacon"], "on") == ""


def test_words_stay_words() -> None:
    """`no` and `off` are words, not truth values, also without quotes."""
    assert load_book("common").signals["sim.paused"].words == ("no", "yes")
    source = parse_source("27:\n  signals:\n    a.b: {switch: [no, on], label: l, means: m}\n", "own.yaml")
    assert parse_signals(source, ())["a.b"].words == ("no", "on")


def test_age_limits() -> None:
    """The age limit is the entry's own, else the book's, else three seconds; the trip sheet does not age."""
    assert load_book("common").signals["weather.qnh"].max_age_s == 60.0
    assert load_book("common").signals["flight.airspeed"].max_age_s == 3.0
    assert {signal.max_age_s for signal in load_book("trip").signals.values()} == {0.0}


def test_books_together() -> None:
    """An included book counts once, however often it is included."""
    together = load_books(["twin_jet", "common", "trip", "twin_jet"])
    assert len(together) == len(load_book("twin_jet").signals) + len(load_book("trip").signals)


def test_chapters_have_titles() -> None:
    """A book has the titles of its chapters and of its includes' chapters."""
    assert load_book("twin_jet").chapters[29] == "Hydraulic power"
    assert 0 in load_book("twin_jet").chapters
    assert 61 in load_book("piston").chapters


# -- what an author gets wrong ------------------------------------------------------------------------


def test_every_fault_at_once(tmp_path: Path) -> None:
    """Ten faults in one book are all reported, in their lines, and the valid entry is read."""
    path = write(
        tmp_path,
        "bad",
        """
good.one: {switch: [no, yes], label: good, means: m}
Bad.Name: {switch: [no, yes], label: l, means: m}
a.two: {switch: [no], label: l, means: m}
a.three: {choice: [a, b, a], label: l, means: m}
a.four: {quantity: kph2, range: 0..1, label: l, means: m}
a.five: {quantity: kt, range: 9..1, label: l, means: m}
a.six: {quantity: kt, label: l, means: m}
a.seven: {switch: [a, b], range: 0..1, label: l, means: m}
a.eight: {label: l, means: m}
a.nine: {switch: [a, b], count: 0..1, label: l, means: m}
a.ten: {switch: [a, b], labell: l, means: m}
a.{x,y}.eleven: {switch: [a, b], label: the same, means: m}
a.twelve: {text: 4, label: "", means: m}
a.thirteen: {switch: [a, b], max_age: 3 kg, label: l, means: m}
a.fourteen: {angle: rad, range: 0..6, label: l, means: m}
good.one: {switch: [a, b], label: l, means: m}
""".replace("good.one: {switch: [a, b]", "good.{one,two}: {switch: [a, b]"),
    )
    printed = "\n".join(faults(path))
    for line, what in {
        8: "'Bad.Name' is not a signal's name",
        9: "a switch with 1 word, expected two words",
        10: "duplicate 'a'",
        11: "unknown unit 'kph2'",
        12: "the range 9..1 is empty",
        13: "range is missing",
        14: "a switch has no range of its own",
        15: "the kind is missing, expected one of switch, choice, quantity, angle, text, count",
        16: "two kinds: switch and count",
        17: "unknown key labell",
        18: "several signals would have the same label",
        19: "''",
        20: "'kg' does not convert to 's'",
        21: "an angle in rad",
        22: "several signals would have the same label",
    }.items():
        assert any(row.startswith(f"bad.yaml:{line}:") and what in row for row in printed.splitlines()), (
            line,
            printed,
        )


@pytest.mark.parametrize(
    ("line", "what", "column"),
    [
        (
            "call.x: {switch: [a, b], label: l, means: m}",
            "'call.x' is a reserved name",
            7,
        ),
        (
            "since: {switch: [a, b], label: l, means: m}",
            "'since' is a reserved name",
            7,
        ),
        ("a.{x,x}: {switch: [a, b], label: '{}', means: m}", "duplicate word in the braces", 7),
        (
            "a.{x,y}.{z,w}: {switch: [a, b], label: '{}', means: m}",
            "'a.{x,y}.{z,w}' is not a signal's name",
            7,
        ),
        ("a.b: {switch: [a, b], label: 'l {}', means: m}", "unexpected {}: the name has no braces", 36),
        ("a.b: {switch: [a, B], label: l, means: m}", "'B' is not a word", 25),
        ("a.b: {switch: [a, true], label: l, means: m}", "true, expected text", 25),
        ("a.b: {choice: [a, b], label: l, means: m}", "a choice with 2 words, expected three", 21),
        ("a.b: {count: 0-5, label: l, means: m}", "'0-5' is not a range", 20),
        ("a.b: {count: -1..5, label: l, means: m}", "the range -1..5 is too wide, expected 0 or more", 20),
        (
            "a.b: {angle: deg, range: 0..400, label: l, means: m}",
            "the range 0..400 is too wide, expected 0..360",
            32,
        ),
        ("a.b: {text: 0, label: l, means: m}", "0 is out of range", 19),
        ("a.b: {quantity: kt, range: '0,5..9', label: l, means: m}", "'0,5..9' is not a range", 34),
        ("a.b: {switch: [a, b], max_age: soon, label: l, means: m}", "'soon' is not a time", 38),
        ("a.b: {switch: [a, b], label: l}", "means is missing", 7),
        (
            "a.b: {switch: [a, b], phrases: {c: x}, label: l, means: m}",
            "'c' is not a word of this signal, expected a or b",
            39,
        ),
        (
            "a.b: {text: 9, phrases: {c: x}, label: l, means: m}",
            "'c' is not a word of this signal, expected a switch or a choice",
            32,
        ),
        ("a.b: {switch: [a, b], phrases: {a: ' '}, label: l, means: m}", "the phrase is empty", 42),
        ("a.b: {switch: [a, b], phrases: {a: 'x {}'}, label: l, means: m}", "unexpected {}", 42),
        ("a.{c,d}: {switch: [a, b], phrases: {a: x}, label: 'l {}', means: m}", "{} is missing", 46),
        ("a.b: {switch: [a, b], sides: [left, right], label: l, means: m}", "only a quantity has sides", 29),
        ("a.b: {switch: [a, b], bands: {x: 0..1}, label: l, means: m}", "only a quantity has bands", 29),
        ("a.b: {quantity: kt, range: 0..9, bands: {x: low}, label: l, means: m}", "'low' is not a range", 51),
        ("a.b: {quantity: kt, range: 0..9, bands: {x: 5..20}, label: l, means: m}", "5..20 is outside", 51),
        ("a.b: {quantity: kt, range: 0..9, rounded: 1 ft, label: l, means: m}", "'1 ft' is not a step", 49),
        ("a.b: {switch: [a, b], rounded: 1 kt, label: l, means: m}", "'1 kt' is not a step", 38),
    ],
)
def test_one_fault_at_its_column(tmp_path: Path, line: str, what: str, column: int) -> None:
    """A fault is placed at the wrong key or value."""
    [printed] = faults(write(tmp_path, "bad", line))
    assert printed.startswith(f"bad.yaml:7:{column}: {what}")


@pytest.mark.parametrize(
    ("chapter", "good"), [("0", True), ("5", True), ("91", True), ("4", False), ("92", False), ("x", False)]
)
def test_chapter_numbers(tmp_path: Path, chapter: str, good: bool) -> None:
    """A chapter is 0 or an ATA number from 5 to 91."""
    path = write(tmp_path, "one", "a.b: {switch: [a, b], label: l, means: m}", chapter=chapter)
    if good:
        assert load_book(str(path)).signals["a.b"].chapter == int(chapter)
    else:
        assert faults(path) == [
            f"one.yaml:4:3: {chapter} is not an ATA chapter, expected 0 for the simulator, or 5 to 91 of ATA iSpec 2200"
        ]


def test_hint_for_a_unit(tmp_path: Path) -> None:
    """A misspelt unit is reported with the nearest one."""
    path = write(tmp_path, "bad", "a.b: {quantity: PSI, range: 0..9, label: l, means: m}")
    with pytest.raises(InputFaults, match="did you mean psi"):
        load_book(str(path))


def test_includes_in_a_circle(tmp_path: Path) -> None:
    """Books that include each other are refused, with the circle."""
    line = "{}.b: {{switch: [a, b], label: l, means: m}}"
    for name, other in (("one", "two"), ("two", "three"), ("three", "one")):
        write(tmp_path, name, line.format(name), top=f"includes: [{other}]\n")
    assert faults(tmp_path / "one.yaml") == [
        "three.yaml:3:12: books include each other: one includes two includes three includes one, expected no circle"
    ]


def test_including_a_book_twice_is_allowed(tmp_path: Path) -> None:
    """Two books may include the same third one."""
    write(tmp_path, "base", "base.b: {switch: [a, b], label: base, means: m}")
    write(tmp_path, "left", "left.b: {switch: [a, b], label: left, means: m}", top="includes: [base]\n")
    path = write(
        tmp_path, "top", "top.b: {switch: [a, b], label: top, means: m}", top="includes: [left, base]\n"
    )
    assert set(load_book(str(path)).signals) == {"base.b", "left.b", "top.b"}


def test_same_name_in_two_books(tmp_path: Path) -> None:
    """A name that an included book has already is a fault in the including book."""
    path = write(
        tmp_path,
        "mine",
        "flight.{track,mach}: {switch: [a, b], label: '{}', means: m}",
        top="includes: [common]\n",
    )
    assert faults(path) == [
        f"mine.yaml:8:7: signal flight.{name} is also in book common, expected each name once"
        for name in ("track", "mach")
    ]


def test_unknown_include(tmp_path: Path) -> None:
    """An unknown included book is reported at its place, with the nearest one."""
    path = write(tmp_path, "mine", "a.b: {switch: [a, b], label: l, means: m}", top="includes: [comon]\n")
    with pytest.raises(InputFaults, match=r"mine\.yaml:3:12: no such signal book") as caught:
        load_book(str(path))
    assert "did you mean common?" in str(caught.value)


def test_unknown_books() -> None:
    """Every unknown book is reported."""
    with pytest.raises(InputFaults) as caught:
        load_books(["twin_jett", "pistn", "common"])
    assert [fault.hint for fault in caught.value.faults] == ["did you mean twin_jet?", "did you mean piston?"]


def test_missing_file(tmp_path: Path) -> None:
    """A path without a file is a fault, not a crash."""
    with pytest.raises(InputFaults, match=r"none\.yaml"):
        load_book(str(tmp_path / "none.yaml"))


def test_faults_of_an_included_book_are_reported(tmp_path: Path) -> None:
    """The faults of both books are reported together."""
    write(tmp_path, "base", "a.b: {switch: [a], label: l, means: m}")
    path = write(tmp_path, "top", "a.c: {switch: [a], label: l, means: m}", top="includes: [base]\n")
    assert [row.split(":")[0] for row in faults(path)] == ["base.yaml", "top.yaml"]


@pytest.mark.parametrize(
    "text", ["", "[]", "book: b\n", "book: b\ntitle: t\nchapters: []\n", "chapters: {27: 5}\n", "x: 1\n"]
)
def test_other_files_are_refused(tmp_path: Path, text: str) -> None:
    """Any other contents of a file are refused with a place."""
    path = tmp_path / "odd.yaml"
    path.write_text(text, "utf-8")
    with pytest.raises(InputFaults, match=r"odd\.yaml"):
        load_book(str(path))


def test_a_packs_own_signals(tmp_path: Path) -> None:
    """A pack's section has the same form, and its faults have their places in the pack's file."""
    path = tmp_path / "pack.yaml"
    path.write_text(
        "signals:\n  28:\n    title: Fuel\n    signals:\n      fuel.tank.aux: {quantity: kg, range: 0..90, label: aux tank, means: m}\n"
    )
    [signal] = parse_signals(read_source(path), ("signals",)).values()
    assert (signal.name, signal.kind, signal.chapter, signal.unit, signal.high) == (
        "fuel.tank.aux", SignalKind.QUANTITY, 28, "kg", 90.0,
    )  # fmt: skip
    path.write_text(path.read_text().replace("0..90", "90..0"))
    with pytest.raises(InputFaults, match=r"pack\.yaml:5:44: the range 90\.\.0 is empty"):
        parse_signals(read_source(path), ("signals",))
