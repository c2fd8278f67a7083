"""Tests of bridge.page.views.timeline.view: entries by phase, the newest first, in pages of bounded size."""

from __future__ import annotations

import pytest

from bridge.page.renderer import Renderer
from bridge.page.views.timeline.view import (
    KIND_TITLES,
    by_phase,
    older_entries,
    timeline,
    timeline_inputs,
    timeline_tools,
)
from bridge.page.views.timeline.view import MAX_ENTRIES as MAX_SHOWN
from bridge.session.session_events import RemarkAdded
from bridge.session.timeline import MAX_ENTRIES, TimelineEntry
from tests.bridge.page.page_builders import HOSTILE, FlownDevice, RenderedHtml


def add_remarks(flown: FlownDevice, count: int) -> None:
    """Add this number of entries."""
    for number in range(count):
        flown.device.timeline(RemarkAdded(float(number), 0.0, f"remark {number}", "captain"))


def numbers(seen: RenderedHtml) -> list[int]:
    """Return the numbers of the entries, in the order of the page."""
    return [int(name.removeprefix("entry-")) for name in seen.ids if name.startswith("entry-")]


def test_an_empty_timeline_shows_a_message(flown: FlownDevice) -> None:
    """An empty timeline is a message, not an empty page."""
    assert flown.shown("timeline").words == "No entries yet."


def test_entries_are_grouped_by_phase_the_newest_first(flown: FlownDevice) -> None:
    """Each phase is a heading with its entries below, the entry of its beginning last."""
    flown.frame(0.0)
    flown.frame(1.0, push_approved=1.0)
    flown.frame(2.0, {"flight.ground_speed": 5.0})
    flown.device.session.add_remark("well done", "instructor")
    seen = flown.shown("timeline")
    order = [seen.words.index(word) for word in ("Push back", "well done", "At the stand", "push approved")]
    assert order == sorted(order)
    assert numbers(seen) == sorted(numbers(seen), reverse=True)


def test_an_entry_shows_both_times_its_kind_and_its_seat(flown: FlownDevice) -> None:
    """An entry shows UTC, simulator time, kind, the level of a notice, and the title of the seat."""
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.frame(59.0, {"lights.beacon": "off"}, push_approved=59.0)
    flown.frame(61.0, {"lights.beacon": "off"})
    seen = flown.shown("timeline")
    entry = next(attrs for tag, attrs in seen.tags if tag == "li" and attrs.get("data-level") == "caution")
    assert entry["data-kind"] == "notice"
    assert "UTC" in seen.words
    assert "0:01:01" in seen.words
    assert "caution" in seen.words
    assert "Captain" in seen.words


def test_a_long_timeline_stays_small(flown: FlownDevice) -> None:
    """Only the newest entries are sent, in a bounded size, with a link to older ones."""
    add_remarks(flown, MAX_ENTRIES + 500)
    seen = flown.shown("timeline")
    assert numbers(seen) == list(range(MAX_ENTRIES + 500, MAX_ENTRIES + 500 - MAX_SHOWN, -1))
    assert len(seen.html) < 100_000
    assert f"/device/older?before={MAX_ENTRIES + 500 - MAX_SHOWN + 1}" in seen.html


def test_older_entries_are_reached_page_by_page(flown: FlownDevice) -> None:
    """The pages show every stored entry once; the last page says that earlier ones are no longer shown."""
    count = MAX_ENTRIES + 7
    add_remarks(flown, count)
    seen, before = numbers(flown.shown("timeline")), timeline(timeline_inputs(flown.device))["before"]
    while before:
        page = older_entries(flown.device, {"before": str(before)})
        text = RenderedHtml(Renderer().render("views/timeline/older.html", page))
        seen += numbers(text)
        before = page["before"]
    assert seen == list(range(count, count - MAX_ENTRIES, -1))
    assert "no longer shown" in text.words


@pytest.mark.parametrize("text", ["", "0", "-5", "x", "9" * 40, "1e3", "²"])
def test_an_invalid_number_still_gives_a_page(flown: FlownDevice, text: str) -> None:
    """Any text in the address gives a page."""
    add_remarks(flown, 3)
    page = older_entries(flown.device, {"before": text})
    assert RenderedHtml(Renderer().render("views/timeline/older.html", page)).words


def test_texts_are_escaped(flown: FlownDevice) -> None:
    """A remark is shown as it was written, escaped."""
    flown.device.session.add_remark(HOSTILE, HOSTILE)
    seen = flown.shown("timeline")
    assert {"script", "img"}.isdisjoint(tag for tag, _ in seen.tags)
    assert "alert('x')" in seen.words


def test_every_kind_of_entry_has_a_filter(flown: FlownDevice) -> None:
    """There is a box for each kind, and every entry has one of these kinds."""
    tools = RenderedHtml(Renderer().render_part("timeline_tools", flown.device, {}))
    assert [a["value"] for tag, a in tools.tags if tag == "input" and a.get("name") == "kind"] == list(
        KIND_TITLES
    )
    flown.frame(0.0)
    flown.frame(1.0, push_approved=1.0)
    flown.ask("rename_session", "Morning")
    assert {entry.kind for entry in flown.device.timeline.entries} <= set(KIND_TITLES)
    assert timeline_tools(flown.device, {})["kinds"] == KIND_TITLES


def test_a_remark_is_sent_as_a_remark(flown: FlownDevice) -> None:
    """The form has the verb and the fields of a request."""
    tools = RenderedHtml(Renderer().render_part("timeline_tools", flown.device, {}))
    assert tools.actions == [("remark", "")]
    assert {"reason", "by"} <= set(tools.attribute("name"))


def test_entries_before_the_first_phase_have_no_title() -> None:
    """Entries before the first phase are in a group without a title."""
    entries = [
        TimelineEntry(3, 0.0, 2.0, "call", "b"),
        TimelineEntry(2, 0.0, 1.0, "phase", "Taxi"),
        TimelineEntry(1, 0.0, 0.0, "call", "a"),
    ]
    assert [(one.title, len(one.entries)) for one in by_phase(entries)] == [("Taxi", 2), ("", 1)]
