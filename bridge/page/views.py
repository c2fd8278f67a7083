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
from bridge.page.panels.device import device
from bridge.page.panels.flows import flows
from bridge.page.panels.head import head
from bridge.page.panels.instructor import entering, excusing, findings, instructor
from bridge.page.panels.link import link
from bridge.page.panels.papers import papers
from bridge.page.panels.timeline import timeline
from bridge.page.panels.told import aloud, told
from bridge.page.parts.papers import tried
from bridge.page.parts.signals import signals
from bridge.page.parts.start import start
from bridge.page.parts.timeline import older, timeline_tools
from bridge.rig import Rig

Context = Mapping[str, object]
Query = Mapping[str, str]

PANELS: dict[str, Callable[[Rig], Context]] = {
    "head": head,
    "aloud": aloud,
    "ahead": ahead,
    "told": told,
    "checklist": checklist,
    "flows": flows,
    "calls": calls,
    "instructor": instructor,
    "entering": entering,
    "excusing": excusing,
    "findings": findings,
    "device": device,
    "timeline": timeline,
    "link": link,
    "papers": papers,
}
"""Each panel by its name; the template of the same name shows what it gives."""


PARTS: dict[str, Callable[[Rig, Query], Context]] = {
    "timeline_tools": timeline_tools,
    "older": older,
    "signals": signals,
    "tried": tried,
    "start": start,
}
"""Each part by its name; the template of the same name in `parts` shows what it gives."""


@dataclass(frozen=True, slots=True)
class View:
    """One view: `parts` and then `panels` are shown below each other, `beside` next to them where the screen is wide.

    `style` and `script` name files of its own under `static`, without their endings; `under` is the view whose button
    is lit, for a view that has none.
    """

    id: str
    title: str
    panels: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    style: str = ""
    script: str = ""
    under: str = ""


VIEWS = (
    View("ahead", "Ahead", ("ahead", "told")),
    View("checklist", "Checklist", ("checklist",), ("ahead",)),
    View("flows", "Flows", ("flows",), ("ahead",)),
    View("calls", "Calls", ("calls",), ("ahead",)),
    View("papers", "Papers", ("papers",), parts=("tried",), style="papers", script="papers"),
    View("start", "Start", parts=("start",), style="start", script="start"),
    View(
        "timeline", "Timeline", ("timeline",), parts=("timeline_tools",), style="timeline", script="timeline"
    ),
    View("older", "Older lines", parts=("older",), style="timeline", under="timeline"),
    View("signals", "Signals", parts=("signals",), style="signals", script="signals"),
    View("link", "Link", ("link",), style="link"),
    View(
        "instructor",
        "Instructor",
        ("instructor", "entering", "excusing", "findings"),
        style="instructor",
        script="search",
    ),
)


def view_of(name: str) -> View | None:
    """A view by its id, None where there is no such view."""
    return next((view for view in VIEWS if view.id == name), None)
