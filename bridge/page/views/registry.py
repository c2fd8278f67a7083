"""The views of the page, and the panels and parts that they consist of.

A panel looks the same to every client and is sent again when it changes.  A part is rendered once for each request of a page,
from the query of its address; the view's script updates it from there.

Takes: nothing.  Gives: `VIEWS` in the order of their buttons; `PANELS`, and `PARTS` with their templates and values.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bridge.page.panel import PagePanel, TemplateValues
from bridge.page.views.ahead.view import ahead
from bridge.page.views.calls.view import calls, calls_inputs
from bridge.page.views.checklist.view import checklist, checklist_inputs
from bridge.page.views.devices.view import device_card
from bridge.page.views.flows.view import flows
from bridge.page.views.instructor.view import findings, findings_inputs, instructor, outside_calls, waivers
from bridge.page.views.link.view import link
from bridge.page.views.signals.view import signals
from bridge.page.views.start.view import start
from bridge.page.views.timeline.view import older_entries, timeline, timeline_inputs, timeline_tools
from bridge.page.views.trip_sheet.view import trip_sheet, trip_sheet_check, trip_sheet_inputs
from bridge.page.widgets.call_list.call_list import call_inputs
from bridge.page.widgets.head.head import head
from bridge.page.widgets.notices.notices import live_region, recent_notices
from bridge.runtime.device import Device

QueryWords = Mapping[str, str]

PANELS: dict[str, PagePanel] = {
    "head": PagePanel("widgets/head/head.html", head),
    "live_region": PagePanel("widgets/notices/live_region.html", live_region),
    "notices": PagePanel("widgets/notices/notices.html", recent_notices),
    "ahead": PagePanel("views/ahead/view.html", ahead),
    "checklist": PagePanel("views/checklist/view.html", checklist_inputs, checklist),
    "flows": PagePanel("views/flows/view.html", flows),
    "calls": PagePanel("views/calls/view.html", calls_inputs, calls),
    "instructor": PagePanel("views/instructor/view.html", instructor),
    "outside_calls": PagePanel("views/instructor/outside_calls.html", call_inputs, outside_calls),
    "waivers": PagePanel("views/instructor/waivers.html", waivers),
    "findings": PagePanel("views/instructor/findings.html", findings_inputs, findings),
    "device": PagePanel("views/devices/card.html", device_card),
    "timeline": PagePanel("views/timeline/view.html", timeline_inputs, timeline),
    "link": PagePanel("views/link/view.html", link),
    "trip_sheet": PagePanel("views/trip_sheet/view.html", trip_sheet_inputs, trip_sheet),
}
"""What each panel shows, and its template."""


PARTS: dict[str, tuple[str, Callable[[Device, QueryWords], TemplateValues]]] = {
    "timeline_tools": ("views/timeline/tools.html", timeline_tools),
    "older": ("views/timeline/older.html", older_entries),
    "signals": ("views/signals/view.html", signals),
    "trip_sheet_check": ("views/trip_sheet/check.html", trip_sheet_check),
    "start": ("views/start/view.html", start),
}
"""The template of each part, and the function that gives the template's values."""


@dataclass(frozen=True, slots=True)
class PageView:
    """One view: `parts` and then `panels` below each other, `aside` next to them on wide screens.

    `style` and `script` are paths of the view's own files under `/static`, without their endings.  `parent` is the view
    whose button is marked, for a view without a button.
    """

    id: str
    title: str
    panels: tuple[str, ...] = ()
    aside: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    style: str = ""
    script: str = ""
    parent: str = ""


VIEWS = (
    PageView("ahead", "Ahead", ("ahead", "notices")),
    PageView("checklist", "Checklist", ("checklist",), ("ahead",), style="views/checklist/view"),
    PageView("flows", "Flows", ("flows",), ("ahead",), style="views/flows/view"),
    PageView("calls", "Calls", ("calls",), ("ahead",), style="views/calls/view"),
    PageView(
        "trip_sheet",
        "Trip sheet",
        ("trip_sheet",),
        parts=("trip_sheet_check",),
        style="views/trip_sheet/view",
        script="views/trip_sheet/view",
    ),
    PageView("start", "Start", parts=("start",), style="views/start/view", script="views/start/view"),
    PageView(
        "timeline",
        "Timeline",
        ("timeline",),
        parts=("timeline_tools",),
        style="views/timeline/view",
        script="views/timeline/view",
    ),
    PageView("older", "Older entries", parts=("older",), style="views/timeline/view", parent="timeline"),
    PageView(
        "signals", "Signals", parts=("signals",), style="views/signals/view", script="views/signals/view"
    ),
    PageView("link", "Link", ("link",), style="views/link/view"),
    PageView(
        "instructor",
        "Instructor",
        ("instructor", "outside_calls", "waivers", "findings"),
        style="views/instructor/view",
        script="widgets/list_search/list_search",
    ),
)


def find_view(view_id: str) -> PageView | None:
    """Return the view with this id, or None."""
    return next((view for view in VIEWS if view.id == view_id), None)
