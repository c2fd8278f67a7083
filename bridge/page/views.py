"""The views of a page and the panels that each is made of.

Takes: nothing.  Gives: `VIEWS` in the order of their buttons, and `PANELS`, which make what the templates show.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bridge.page.panels.ahead import ahead
from bridge.page.panels.head import head
from bridge.rig import Rig

Context = Mapping[str, object]

PANELS: dict[str, Callable[[Rig], Context]] = {
    "head": head,
    "ahead": ahead,
}
"""Each panel by its name; the template of the same name shows what it gives."""


@dataclass(frozen=True, slots=True)
class View:
    """One view: `panels` are shown below each other, `beside` next to them where the screen is wide."""

    id: str
    title: str
    panels: tuple[str, ...]
    beside: tuple[str, ...] = ()


VIEWS = (View("ahead", "Ahead", ("ahead",)),)


def view_of(name: str) -> View | None:
    """A view by its id, None where there is no such view."""
    return next((view for view in VIEWS if view.id == name), None)
