"""Tests of bridge.page.views.timeline.view and of the pages of older lines: bounded, by phase, the newest first."""

from __future__ import annotations

import pytest

from bridge.page.renderer import Renderer
from bridge.page.views.timeline.older import older_entries, timeline_tools
from bridge.page.views.timeline.view import KIND_TITLES, SHOWN_AT_ONCE, by_phase, timeline
from bridge.session.session_events import RemarkAdded
from bridge.session.timeline import MAX_ENTRIES, TimelineEntry
from tests.bridge.page.page_builders import HOSTILE, FlownDevice, RenderedHtml


def remarks(flown: FlownDevice, many: int) -> None:
    """So many lines."""
    for number in range(many):
        flown.device.timeline(RemarkAdded(float(number), 0.0, f"remark {number}", "captain"))


def numbers(seen: RenderedHtml) -> list[int]:
    """The numbers of the lines that are shown, in their order."""
    return [int(name.removeprefix("line-")) for name in seen.ids if name.startswith("line-")]


def test_before_anything_happened_it_says_so(flown: FlownDevice) -> None:
    """An empty timeline is a sentence, not an empty page."""
    assert flown.shown("timeline").words == "Nothing has happened yet."


def test_lines_stand_under_their_phase_the_newest_first(flown: FlownDevice) -> None:
    """Each phase is a heading with its lines below it, and the line of its beginning last."""
    flown.frame(0.0)
    flown.frame(1.0, push_approved=1.0)
    flown.frame(2.0, {"flight.ground_speed": 5.0})
    flown.device.session.add_remark("well done", "instructor")
    seen = flown.shown("timeline")
    order = [seen.words.index(word) for word in ("Push back", "well done", "At the stand", "push approved")]
    assert order == sorted(order)
    assert numbers(seen) == sorted(numbers(seen), reverse=True)


def test_a_line_has_both_times_its_kind_and_who(flown: FlownDevice) -> None:
    """UTC and the simulator's time, the kind in words, the level of a notice, and the seat by its title."""
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.frame(59.0, {"lights.beacon": "off"}, push_approved=59.0)
    flown.frame(61.0, {"lights.beacon": "off"})
    seen = flown.shown("timeline")
    line = next(attrs for tag, attrs in seen.tags if tag == "li" and attrs.get("data-level") == "caution")
    assert line["data-what"] == "notice"
    assert "UTC" in seen.words
    assert "0:01:01" in seen.words
    assert "caution" in seen.words
    assert "Captain" in seen.words


def test_two_thousand_lines_stay_light(flown: FlownDevice) -> None:
    """However long the flight, only the newest lines are sent, in a bounded size, with a way to older ones."""
    remarks(flown, MAX_ENTRIES + 500)
    seen = flown.shown("timeline")
    assert numbers(seen) == list(range(MAX_ENTRIES + 500, MAX_ENTRIES + 500 - SHOWN_AT_ONCE, -1))
    assert len(seen.html) < 100_000
    assert f"/device/older?before={MAX_ENTRIES + 500 - SHOWN_AT_ONCE + 1}" in seen.html


def test_older_lines_are_reached_page_by_page_without_a_gap(flown: FlownDevice) -> None:
    """From the newest page back to the oldest kept line every line is shown once; then it says that no more is kept."""
    many = MAX_ENTRIES + 7
    remarks(flown, many)
    seen, before = numbers(flown.shown("timeline")), timeline(flown.device)["before"]
    while before:
        page = older_entries(flown.device, {"before": str(before)})
        text = RenderedHtml(Renderer().render("parts/older.html", page))
        seen += numbers(text)
        before = page["before"]
    assert seen == list(range(many, many - MAX_ENTRIES, -1))
    assert "not kept for screens" in text.words


@pytest.mark.parametrize("said", ["", "0", "-5", "x", "9" * 40, "1e3", "²"])
def test_a_line_that_is_not_there_is_no_error(flown: FlownDevice, said: str) -> None:
    """Whatever stands in the address, a page comes."""
    remarks(flown, 3)
    page = older_entries(flown.device, {"before": said})
    assert RenderedHtml(Renderer().render("parts/older.html", page)).words


def test_texts_are_escaped(flown: FlownDevice) -> None:
    """What somebody wrote is shown as it was written, and is no part of the page."""
    flown.device.session.add_remark(HOSTILE, HOSTILE)
    seen = flown.shown("timeline")
    assert {"script", "img"}.isdisjoint(tag for tag, _ in seen.tags)
    assert "alert('x')" in seen.words


def test_every_kind_of_line_has_a_filter(flown: FlownDevice) -> None:
    """A box for each kind, and each kind of line is one of them."""
    tools = RenderedHtml(Renderer().render_part("timeline_tools", flown.device, {}))
    assert [a["value"] for tag, a in tools.tags if tag == "input" and a.get("name") == "kind"] == list(
        KIND_TITLES
    )
    flown.frame(0.0)
    flown.frame(1.0, push_approved=1.0)
    flown.ask("rename_session", "Morning")
    assert {line.kind for line in flown.device.timeline.entries} <= set(KIND_TITLES)
    assert timeline_tools(flown.device, {})["kinds"] == KIND_TITLES


def test_a_remark_is_sent_as_a_remark(flown: FlownDevice) -> None:
    """The form asks for the verb that exists, and the fields of a request."""
    tools = RenderedHtml(Renderer().render_part("timeline_tools", flown.device, {}))
    assert tools.actions == [("remark", "")]
    assert {"reason", "by"} <= set(tools.attribute("name"))


def test_lines_before_the_first_phase_have_a_stretch_of_their_own() -> None:
    """What came before the first phase of these lines is not put under a phase."""
    lines = [
        TimelineEntry(3, 0.0, 2.0, "call", "b"),
        TimelineEntry(2, 0.0, 1.0, "phase", "Taxi"),
        TimelineEntry(1, 0.0, 0.0, "call", "a"),
    ]
    assert [(one.title, len(one.entries)) for one in by_phase(lines)] == [("Taxi", 2), ("", 1)]
