"""Tests of the waivers in a debrief: the summary, the report and the tables."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from msgspec import structs

from bridge.common.time_text import format_sim_time
from bridge.debrief.drawing.plots import Plots
from bridge.debrief.export import save_csv, save_json
from bridge.debrief.model import DebriefData, DebriefWaiver
from bridge.debrief.report.document import render_html
from bridge.debrief.tables import debrief_tables
from bridge.debrief.wording import author_text, summary
from bridge.session.request_handlers import MAX_REMARK_LENGTH
from rules.words import capitalised, number_in_words
from tests.bridge.debrief.report.pdf_text import save_pdf, text_of, words_of

BEACON = DebriefWaiver(
    61.0, 0.0, "flow.a.b", "Beacon", ("Push back", "Taxi"), "lamp failed", "instructor", 125.0, "captain", "lamp replaced"
)  # fmt: skip
PUMPS = tuple(
    DebriefWaiver(0.0, 0.0, f"flow.a.{n}", f"Pump {n}", (), "dispatched inoperative", "trip sheet")
    for n in range(7)
)


@pytest.fixture
def waived(debrief: DebriefData) -> DebriefData:
    """A session with waivers of the instructor and of the trip sheet, one of which closed a finding."""
    first = debrief.findings[0]
    closed = structs.replace(
        first.finding, waived=True, corrected=False, carried=False, closed_s=first.finding.sim_s + 5
    )
    findings = (replace(first, finding=closed), *debrief.findings[1:])
    return replace(debrief, waivers=(BEACON, *PUMPS), findings=findings)


def test_the_summary_names_them(waived: DebriefData, debrief: DebriefData) -> None:
    """The summary names the items, who waived them and why; without waivers it says nothing of them."""
    text = summary(waived)
    assert "One item was waived by the instructor: beacon (lamp failed; until 0:02:05)." in text
    assert "Seven items were waived by the trip sheet: pump 0 (dispatched inoperative), pump 1" in text
    assert "pump 4 (dispatched inoperative) and two others." in text
    assert "waived" not in summary(debrief)
    unknown = replace(BEACON, reason="", by="")
    assert "One item was waived: beacon (until 0:02:05)." in summary(replace(debrief, waivers=(unknown,)))


def test_a_waived_finding_is_not_corrected(waived: DebriefData) -> None:
    """A finding that a waiver closed is counted apart from those that were corrected in time."""
    text = summary(waived)
    findings = [detail.finding for detail in waived.findings]
    carried = sum(finding.carried for finding in findings)
    corrected = sum(finding.corrected and not finding.carried for finding in findings)
    left = len(findings) - carried - corrected - 1
    counts = [number_in_words(count) for count in (corrected, carried, left)]
    assert min(corrected, carried) > 1
    assert left == 1
    assert (
        f"{capitalised(counts[0])} were corrected in time; {counts[1]} were carried into the next phase; "
        f"one was waived; {counts[2]} was not corrected."
    ) in text
    assert waived.findings[0].managed == "waived"


def test_authors_are_named(debrief: DebriefData) -> None:
    """A seat has its title, a role its name, and a person the pseudonym."""
    named = [author_text(by, debrief.seats) for by in ("first_officer", "atc", "ground", "cabin", "Heron")]
    assert named == ["the first officer", "ATC", "ground", "the cabin", "Heron"]


def test_the_report_has_a_table(waived: DebriefData, debrief: DebriefData, plots: Plots) -> None:
    """The report has item, gates, author, reason and both times, and a mark in the plot of the finding."""
    page = render_html(waived, plots)
    row = page[page.index('<th scope="row">Beacon</th><td>Push back; Taxi') :].partition("</tr>")[0]
    for text in (
        "The instructor",
        "lamp failed",
        "0:01:01",
        "0:02:05, undone by the captain: lamp replaced",
    ):
        assert text in row
    assert page.count("The trip sheet") == len(PUMPS)
    assert "end of the session" in page
    assert "<dt>Waived</dt>" in page
    assert 'id="waivers"' not in render_html(debrief, plots)


LONG = " ".join(f"reason{n}" for n in range(55))[:MAX_REMARK_LENGTH]
UNBROKEN = "x" * 150 + "y"
LONG_WAIVERS = (
    DebriefWaiver(61.0, 0.0, "flow.a.b", "Beacon", ("Push back",), LONG, "instructor", 125.0, "captain", LONG[::-1]),
    DebriefWaiver(62.0, 0.0, "flow.a.c", "Logo light", (), UNBROKEN, "first_officer", 3725.0, "atc", UNBROKEN),
    DebriefWaiver(63.0, 0.0, "flow.a.d", "Wing light", (), "lamp failed", "Heron"),
)  # fmt: skip


def test_they_are_printed_in_full(debrief: DebriefData, plots: Plots, tmp_path: Path) -> None:
    """On paper and on the page each waiver has its reasons to the last letter, its authors and its times."""
    long = replace(debrief, waivers=LONG_WAIVERS, findings=(), traces=(), item_histories=())
    path = tmp_path / "debrief.pdf"
    save_pdf(long, plots, path)
    letters = "".join(text_of(path, "-raw").split())  # cell by cell, not line by line across the columns
    row_texts = {waiver.item: _row_texts(waiver, debrief.seats) for waiver in LONG_WAIVERS}
    page = render_html(long, plots)
    for waiver in LONG_WAIVERS:
        row = page[page.index(f'<th scope="row">{waiver.label}</th>') :].partition("</tr>")[0]
        for text in row_texts[waiver.item]:
            assert text in row
            assert "".join(text.split()) in letters, text
    assert [word for word in words_of(path) if not word.is_on_the_page] == []


def _row_texts(waiver: DebriefWaiver, seats: Mapping[str, str]) -> tuple[str, ...]:
    """The texts of a waiver's row: author, reason, begin, and the end with its author and reason."""
    begin = (capitalised(author_text(waiver.by, seats)), waiver.reason, format_sim_time(waiver.from_s))
    if waiver.to_s is None:
        return (*begin, "end of the session")
    end = f"{format_sim_time(waiver.to_s)}, undone by {author_text(waiver.undone_by, seats)}: {waiver.undone_reason}"
    return (*begin, end)


def test_the_tables_have_them(waived: DebriefData, tmp_path: Path) -> None:
    """A waiver is a row of its table, and a finding says whether a waiver closed it."""
    tables = debrief_tables(waived)
    save_csv(tables, tmp_path)
    save_json(tables, tmp_path / "tables.json")
    lines = (tmp_path / "waivers.csv").read_text(encoding="utf-8").splitlines()
    assert lines[1] == (
        "61.0,125.0,0.0,flow.a.b,Beacon,Push back; Taxi,instructor,lamp failed,captain,lamp replaced"
    )
    assert len(lines) == 2 + len(PUMPS)
    (data,) = [json.loads(path.read_text(encoding="utf-8")) for path in tmp_path.glob("*.json")]
    assert "lamp replaced" in json.dumps(data)
    (findings,) = [table for table in tables if table.name == "findings"]
    column = list(findings.columns).index("waived")
    assert [row[column] for row in findings.rows][:2] == [True, False]
