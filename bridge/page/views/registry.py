"""The views of a page and the panels that each is made of.

A panel is the same for all who look, and follows the flight.  A part is made once for each page that is asked for, from the
words of its address; scripts bring life into it.

Takes: nothing.  Gives: `VIEWS` in the order of their buttons; `PANELS` and `PARTS`, which make what the templates show.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bridge.page.views.ahead.view import ahead
from bridge.page.views.calls.view import calls
from bridge.page.views.checklist.view import checklist
from bridge.page.views.devices.view import device_card
from bridge.page.views.flows.view import flows
from bridge.page.views.instructor.view import findings, instructor, outside_calls, waivers
from bridge.page.views.link.view import link
from bridge.page.views.signals.view import signals
from bridge.page.views.start.view import start
from bridge.page.views.timeline.older import older_entries, timeline_tools
from bridge.page.views.timeline.view import timeline
from bridge.page.views.trip_sheet.check_part import trip_sheet_check
from bridge.page.views.trip_sheet.view import trip_sheet
from bridge.page.widgets.head.head import head
from bridge.page.widgets.notices.notices import live_region, recent_notices
from bridge.runtime.device import Device

TemplateValues = Mapping[str, object]
QueryWords = Mapping[str, str]

PANELS: dict[str, Callable[[Device], TemplateValues]] = {
    "head": head,
    "aloud": live_region,
    "ahead": ahead,
    "told": recent_notices,
    "checklist": checklist,
    "flows": flows,
    "calls": calls,
    "instructor": instructor,
    "entering": outside_calls,
    "excusing": waivers,
    "findings": findings,
    "device": device_card,
    "timeline": timeline,
    "link": link,
    "papers": trip_sheet,
}
"""Each panel by its name; the template of the same name shows what it gives."""


PARTS: dict[str, Callable[[Device, QueryWords], TemplateValues]] = {
    "timeline_tools": timeline_tools,
    "older": older_entries,
    "signals": signals,
    "tried": trip_sheet_check,
    "start": start,
}
"""Each part by its name; the template of the same name in `parts` shows what it gives."""


@dataclass(frozen=True, slots=True)
class PageView:
    """One view: `parts` and then `panels` are shown below each other, `beside` next to them where the screen is wide.

    `style` and `script` name files of its own under `static`, without their endings; `under` is the view whose button
    is lit, for a view that has none.
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
    PageView("ahead", "Ahead", ("ahead", "told")),
    PageView("checklist", "Checklist", ("checklist",), ("ahead",)),
    PageView("flows", "Flows", ("flows",), ("ahead",)),
    PageView("calls", "Calls", ("calls",), ("ahead",)),
    PageView("papers", "Papers", ("papers",), parts=("tried",), style="papers", script="papers"),
    PageView("start", "Start", parts=("start",), style="start", script="start"),
    PageView(
        "timeline", "Timeline", ("timeline",), parts=("timeline_tools",), style="timeline", script="timeline"
    ),
    PageView("older", "Older lines", parts=("older",), style="timeline", parent="timeline"),
    PageView("signals", "Signals", parts=("signals",), style="signals", script="signals"),
    PageView("link", "Link", ("link",), style="link"),
    PageView(
        "instructor",
        "Instructor",
        ("instructor", "entering", "excusing", "findings"),
        style="instructor",
        script="search",
    ),
)


def find_view(view_id: str) -> PageView | None:
    """A view by its id, None where there is no such view."""
    return next((view for view in VIEWS if view.id == view_id), None)
