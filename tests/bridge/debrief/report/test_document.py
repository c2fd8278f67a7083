"""Tests of the report: links, ids, texts, escaping, and the PDF."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from msgspec import structs

from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.debrief.drawing.plots import Plots, draw_all, flown_flows, plot_count
from bridge.debrief.drawing.svg_figure import COLOUR_NAMES
from bridge.debrief.model import DebriefData, DebriefWaiver
from bridge.debrief.report.document import render_html
from bridge.session.threat_error import ErrorClass
from rules.packs.model import FindingKind, Level
from tests.bridge.debrief.recorded_flight import number_of
from tests.bridge.debrief.report.pdf_text import save_pdf, text_of

EVIL = "<script>alert(1)</script>"


class ParsedDebrief(HTMLParser):
    """The tags of a page with their attributes, and its text."""

    def __init__(self, text: str) -> None:
        """Parse a page."""
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Record a tag."""
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_data(self, data: str) -> None:
        """Record text."""
        self.words += data

    def values(self, name: str) -> list[str]:
        """The values of an attribute in all tags."""
        return [attributes[name] for _, attributes in self.tags if name in attributes]


@pytest.fixture(scope="module")
def parsed(page: str) -> ParsedDebrief:
    """The parsed page."""
    return ParsedDebrief(page)


def test_every_link_has_an_anchor(parsed: ParsedDebrief) -> None:
    """Each link within the page has its anchor, those of plots and sections too."""
    ids = set(parsed.values("id"))
    links = [one.removeprefix("#") for one in parsed.values("href") if one.startswith("#")]
    assert len(links) >= 30
    assert set(links) <= ids


def test_ids_are_unique(parsed: ParsedDebrief) -> None:
    """Ids are unique in the whole page, in the plots too."""
    assert [name for name, count in Counter(parsed.values("id")).items() if count > 1] == []


def test_every_finding_links_to_its_plot_and_back(parsed: ParsedDebrief, debrief: DebriefData) -> None:
    """The table links to the evidence, the evidence to the trace of the finding and back to the table."""
    ids, links = set(parsed.values("id")), parsed.values("href")
    for detail in debrief.findings:
        number = detail.finding.number
        assert {f"row-{number}", f"finding-{number}", f"plot-{number}"} <= ids
        assert {f"#finding-{number}", f"#row-{number}"} <= set(links)
    assert "#trace-1" in links


def test_traces_link_to_the_findings_that_they_show(
    debrief: DebriefData, parsed: ParsedDebrief, plots: Plots
) -> None:
    """A finding that opened in an engine's start is marked there, and both link to each other."""
    early = number_of(debrief, "watch.fuel_early.2")
    start = plots.trace_of(early)
    assert start is not None
    assert start.title == "Start of engine 2"
    assert start.findings == (early,)
    assert plots.trace_of(1) is None
    assert {f"#finding-{early}", f"#{start.anchor}"} <= set(parsed.values("href"))


def test_the_page_fetches_no_other_files(page: str, parsed: ParsedDebrief) -> None:
    """The page is self-contained: it has no addresses but the SVG namespaces, and its one script is inline."""
    assert not [tag for tag, _ in parsed.tags if tag in ("link", "img", "iframe", "object")]
    assert [attributes for tag, attributes in parsed.tags if tag == "script"] == [{}]
    addresses = set(re.findall(r"https?://[^\"'\s<)]+", page))
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert "@import" not in page


def test_the_page_has_every_required_content(parsed: ParsedDebrief, debrief: DebriefData) -> None:
    """The page has the sentence, values and class of each finding, the gates, the calculations, remarks and the disclaimer."""
    words = " ".join(parsed.words.split())
    for detail in debrief.findings:
        for text in (
            detail.finding.sentence,
            detail.finding.actual,
            detail.finding.wanted,
            detail.managed,
            str(detail.error_class),
        ):
            assert " ".join(text.split()) in words
    for gate in debrief.gates:
        assert gate.passage.title in words
    assert "For flight simulation only" in words
    assert "sheet empty mass 34 200 kg plus sheet load 14 400 kg" in words
    assert "Good pace, but the flow was done from memory too quickly." in words
    for text in (
        "minimum N2 for fuel",
        "starter cut-out",
        "light-off",
        "full travel",
        f"{number_of(debrief, 'watch.fuel_early.2')} opened",
        "corrected",
    ):
        assert text in words


def test_plots_have_text_for_readers_who_cannot_see_them(parsed: ParsedDebrief) -> None:
    """Each plot has a title and a description."""
    plots = [
        index
        for index, (tag, attributes) in enumerate(parsed.tags)
        if tag == "svg" and attributes.get("role") == "img"
    ]
    assert len(plots) > 25
    assert all([tag for tag, _ in parsed.tags[index + 1 : index + 3]] == ["title", "desc"] for index in plots)


def test_tables_have_headings(parsed: ParsedDebrief) -> None:
    """Every heading of a table has a scope, row or column."""
    headings = [attributes for tag, attributes in parsed.tags if tag == "th"]
    assert all(attributes.get("scope") in ("row", "col") for attributes in headings)


def test_plots_have_the_colours_of_the_page(page: str) -> None:
    """On a screen plots use the page's colours, light or dark; no placeholder is left."""
    assert "var(--warning)" in page
    assert "prefers-color-scheme: dark" in page
    for placeholder in COLOUR_NAMES:
        assert placeholder not in page


def test_every_text_is_escaped(debrief: DebriefData) -> None:
    """Text that users typed never becomes markup."""
    first = replace(
        debrief.findings[0],
        person=EVIL,
        finding=structs.replace(debrief.findings[0].finding, sentence=EVIL, why=EVIL),
    )
    evil = replace(
        debrief,
        name=EVIL,
        course=EVIL,
        crew={"captain": EVIL},
        trip_sheet_title=EVIL,
        findings=(first,),
        item_histories=(),
        traces=(),
        remarks=tuple(structs.replace(one, text=EVIL, by=EVIL) for one in debrief.remarks),
        waivers=(DebriefWaiver(1.0, 0.0, EVIL, EVIL, (EVIL,), EVIL, EVIL, 2.0, EVIL, EVIL),),
    )
    text = render_html(evil)
    assert EVIL not in text
    assert text.count("<script") == 1
    assert text.count("&lt;script&gt;") >= 8


def test_an_empty_session(debrief: DebriefData) -> None:
    """The page of a session without findings, phases, traces and flows says that there are no findings."""
    empty = replace(
        debrief, findings=(), item_histories=(), traces=(), phases=(), gates=(), flight_times={}, notices=(), calls=(), remarks=(),
        trip_values=(), calculations=(), from_s=0.0, to_s=0.0,
    )  # fmt: skip
    text = render_html(empty)
    assert "No findings." in text
    assert plot_count(empty) == 0
    assert "#traces" not in text


def test_missing_data_is_named_at_the_top(debrief: DebriefData) -> None:
    """Faults of the recording and jumps of the clock are named before the timeline."""
    text = render_html(
        replace(
            debrief,
            item_histories=(),
            traces=(),
            findings=(),
            faults=("The recording breaks off.",),
            clock_resets=2,
        )
    )
    assert text.index("The recording breaks off.") < text.index('id="timeline"')
    assert "jumped back two times" in text


def test_progress_is_called_once_for_each_plot(debrief: DebriefData) -> None:
    """The calls of progress are as many as `plot_count` announces."""
    few = replace(
        debrief,
        item_histories=tuple(b for b in debrief.item_histories if b.flow == "taxi"),
        findings=debrief.findings[:1],
        traces=(),
    )
    steps: list[int] = []
    drawn = draw_all(few, steps.append)
    assert sum(steps) == plot_count(few) == 3
    assert list(drawn.findings) == [1]
    assert [items[0].flow for items in flown_flows(few)] == ["taxi"]


def test_the_pdf(debrief: DebriefData, plots: Plots, tmp_path: Path) -> None:
    """The PDF has the disclaimer and the page number on every page, and every finding."""
    path = tmp_path / "debrief.pdf"
    save_pdf(debrief, plots, path)
    assert path.read_bytes().startswith(b"%PDF-")
    text = text_of(path, "-layout")
    pages = text.split("\f")[:-1]
    assert 5 < len(pages) < 40
    for number, words in enumerate(pages, start=1):
        assert SHORT_DISCLAIMER in " ".join(words.split())
        assert f"{number} of {len(pages)}" in words
    full_text = " ".join(text.split())
    assert all(f"{detail.finding.number}. {detail.finding.label}" in full_text for detail in debrief.findings)


def test_a_doubt_is_in_no_count_of_a_level(debrief: DebriefData) -> None:
    """The counts of the first page have a doubt in its own class, and in no level."""
    doubt = replace(
        debrief.findings[0],
        error_class=ErrorClass.NOT_VERIFIABLE,
        finding=structs.replace(
            debrief.findings[0].finding, kind=FindingKind.NOT_VERIFIABLE, level=Level.ADVISORY
        ),
    )
    text = render_html(replace(debrief, findings=(doubt,), item_histories=(), traces=()))
    counts = text.partition('<ul class="counts">')[2].partition("</ul>")[0]
    assert re.findall(r"<b>(\d+)</b> ([^<]+)", counts) == [("1", "not verifiable")]
    assert 'data-level="advisory"' not in counts
