"""The views of a page and the panels that each is made of.

A panel is the same for all who look, and follows the flight.  A part is made once for each page that is asked for, from the
words of its address; scripts bring life into it.

Takes: nothing.  Gives: `VIEWS` in the order of their buttons; `PANELS` and `PARTS`, which make what the templates show.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bridge.page.panels.ahead import ahead
from bridge.page.panels.calls import calls
from bridge.page.panels.checklist import checklist
from bridge.page.panels.device import device_card
from bridge.page.panels.flows import flows
from bridge.page.panels.head import head
from bridge.page.panels.instructor import outside_calls, waivers, findings, instructor
from bridge.page.panels.link import link
from bridge.page.panels.papers import trip_sheet
from bridge.page.panels.timeline import timeline
from bridge.page.panels.told import live_region, recent_notices
from bridge.page.parts.papers import trip_sheet_check
from bridge.page.parts.signals import signals
from bridge.page.parts.start import start
from bridge.page.parts.timeline import older_entries, timeline_tools
from bridge.rig import Device

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
