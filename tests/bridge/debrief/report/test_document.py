"""The page: links, ids, words, escaping; and its paper."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from msgspec import structs

from bridge.debrief.drawing.plots import Plots, draw_all, flown_flows, plot_count
from bridge.debrief.drawing.svg_figure import COLOUR_NAMES
from bridge.debrief.model import DebriefData
from bridge.debrief.report.document import css_string, render_html, render_pdf
from bridge.terminal.live_view import SHORT_CAUTION

NO_READER = "pdftotext is not installed: the words of the PDF are not read (on Debian: poppler-utils)"
EVIL = "<script>alert(1)</script>"


class ParsedDebrief(HTMLParser):
    """Tags with their attributes, and the words."""

    def __init__(self, text: str) -> None:
        """Read it."""
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag."""
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_data(self, data: str) -> None:
        """Note words."""
        self.words += data

    def values(self, name: str) -> list[str]:
        """The values of an attribute, wherever it stands."""
        return [attributes[name] for _, attributes in self.tags if name in attributes]


@pytest.fixture(scope="module")
def seen(page: str) -> ParsedDebrief:
    """The page, read."""
    return ParsedDebrief(page)


def test_every_link_leads_somewhere(seen: ParsedDebrief) -> None:
    """Each link within the page has its anchor, those of plots and parts too."""
    ids = set(seen.values("id"))
    links = [one.removeprefix("#") for one in seen.values("href") if one.startswith("#")]
    assert len(links) >= 30
    assert set(links) <= ids


def test_no_id_stands_twice(seen: ParsedDebrief) -> None:
    """Ids are unique in the whole page, in the plots too."""
    assert [name for name, count in Counter(seen.values("id")).items() if count > 1] == []


def test_every_finding_leads_to_its_plot_and_back(seen: ParsedDebrief, account: DebriefData) -> None:
    """From the table to the evidence, from there to the strip it stands in, and back."""
    ids, links = set(seen.values("id")), seen.values("href")
    for case in account.findings:
        number = case.finding.number
        assert {f"row-{number}", f"finding-{number}", f"plot-{number}"} <= ids
        assert {f"#finding-{number}", f"#row-{number}"} <= set(links)
    assert "#trace-1" in links


def test_strips_lead_to_the_findings_they_show(seen: ParsedDebrief, plots: Plots) -> None:
    """A finding that came up in an engine's start is marked there, and the one leads to the other."""
    start = plots.trace_of(8)
    assert start is not None
    assert start.title == "Start of engine 2"
    assert start.findings == (8,)
    assert plots.trace_of(1) is None
    assert {"#finding-8", f"#{start.anchor}"} <= set(seen.values("href"))


def test_nothing_is_fetched(page: str, seen: ParsedDebrief) -> None:
    """The page needs nothing beside it: no address but the names of SVG; its one line of script is in it."""
    assert not [tag for tag, _ in seen.tags if tag in ("link", "img", "iframe", "object")]
    assert [attributes for tag, attributes in seen.tags if tag == "script"] == [{}]
    addresses = set(re.findall(r"https?://[^\"'\s<)]+", page))
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert "@import" not in page


def test_what_a_debrief_must_have(seen: ParsedDebrief, account: DebriefData) -> None:
    """Every sentence, value wanted and had, seat, class and time of each finding, the gates, times and cautions stand there."""
    words = " ".join(seen.words.split())
    for case in account.findings:
        for said in (
            case.finding.sentence,
            case.finding.actual,
            case.finding.wanted,
            case.managed,
            str(case.error_class),
        ):
            assert " ".join(said.split()) in words
    for gate in account.gates:
        assert gate.passage.title in words
    assert "For flight simulation only" in words
    assert "sheet empty mass 34 200 kg plus sheet load 14 400 kg" in words
    assert "Good pace, but the flow was done from memory too quickly." in words
    for text in ("least N2 for fuel", "starter cut-out", "light-off", "full travel", "8 found", "put right"):
        assert text in words


def test_plots_can_be_understood_without_seeing(seen: ParsedDebrief) -> None:
    """Each plot has a title and says in a sentence what it shows."""
    plots = [
        at
        for at, (tag, attributes) in enumerate(seen.tags)
        if tag == "svg" and attributes.get("role") == "img"
    ]
    assert len(plots) > 25
    assert all([tag for tag, _ in seen.tags[at + 1 : at + 3]] == ["title", "desc"] for at in plots)


def test_tables_have_headings(seen: ParsedDebrief) -> None:
    """Every heading of a table says whether it is of a row or a column."""
    headings = [attributes for tag, attributes in seen.tags if tag == "th"]
    assert all(attributes.get("scope") in ("row", "col") for attributes in headings)


def test_colours_are_the_page_s(page: str) -> None:
    """On a screen plots take the page's colours, light or dark; no stand-in is left."""
    assert "var(--warning)" in page
    assert "prefers-color-scheme: dark" in page
    for stand_in in COLOUR_NAMES:
        assert stand_in not in page


def test_every_text_is_escaped(account: DebriefData) -> None:
    """What people typed is words, never part of the page."""
    first = replace(
        account.findings[0],
        person=EVIL,
        finding=structs.replace(account.findings[0].finding, sentence=EVIL, why=EVIL),
    )
    evil = replace(
        account,
        name=EVIL,
        course=EVIL,
        crew={"captain": EVIL},
        trip_sheet_title=EVIL,
        findings=(first,),
        item_histories=(),
        traces=(),
        remarks=tuple(structs.replace(one, text=EVIL, by=EVIL) for one in account.remarks),
    )
    text = render_html(evil)
    assert EVIL not in text
    assert text.count("<script") == 1
    assert text.count("&lt;script&gt;") >= 8


def test_the_caution_is_a_string_of_the_style_sheet() -> None:
    """Whatever the caution has in it, it ends no string and opens no tag there."""
    assert css_string('Operator\'s "manual" </style>') == (
        '"Operator\\000027s \\000022manual\\000022 \\00003c\\00002fstyle\\00003e"'
    )


def test_a_session_in_which_nothing_was(account: DebriefData) -> None:
    """A session without findings, phases, strips and flows is a page that says so."""
    nothing = replace(
        account, findings=(), item_histories=(), traces=(), phases=(), gates=(), flight_times={}, notices=(), calls=(), remarks=(),
        trip_values=(), calculations=(), from_s=0.0, to_s=0.0,
    )  # fmt: skip
    text = render_html(nothing)
    assert "Nothing was found." in text
    assert plot_count(nothing) == 0
    assert "#traces" not in text


def test_what_is_missing_is_said(account: DebriefData) -> None:
    """Where a recording breaks off, and where the clock jumped back, that is said at the top."""
    text = render_html(
        replace(
            account,
            item_histories=(),
            traces=(),
            findings=(),
            faults=("The recording breaks off.",),
            clock_resets=2,
        )
    )
    assert text.index("The recording breaks off.") < text.index('id="timeline"')
    assert "went back two times" in text


def test_drawing_is_told(account: DebriefData) -> None:
    """Progress hears of each plot once, and of as many as were announced."""
    few = replace(
        account,
        item_histories=tuple(b for b in account.item_histories if b.flow == "taxi"),
        findings=account.findings[:1],
        traces=(),
    )
    heard: list[int] = []
    drawn = draw_all(few, heard.append)
    assert sum(heard) == plot_count(few) == 3
    assert list(drawn.findings) == [1]
    assert [bars[0].flow for bars in flown_flows(few)] == ["taxi"]


def test_paper(account: DebriefData, plots: Plots, tmp_path: Path) -> None:
    """The PDF has the caution and its number on every page, and every finding."""
    path = tmp_path / "debrief.pdf"
    path.write_bytes(render_pdf(account, plots))
    assert path.read_bytes().startswith(b"%PDF-")
    program = shutil.which("pdftotext")
    if program is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)(NO_READER)
    text = subprocess.run([program, "-layout", path, "-"], check=True, capture_output=True, text=True).stdout
    pages = text.split("\f")[:-1]
    assert 5 < len(pages) < 40
    for number, words in enumerate(pages, start=1):
        assert SHORT_CAUTION in " ".join(words.split())
        assert f"{number} of {len(pages)}" in words
    whole = " ".join(text.split())
    assert all(f"{case.finding.number}. {case.finding.label}" in whole for case in account.findings)
