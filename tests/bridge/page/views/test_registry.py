"""Tests that every style and script of a view is linked, and that every view is documented.

Takes: the folders of the views, the registry and bridge/README.md.  Gives: tests that fail if one of them is left out.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import bridge
from bridge.page.renderer import PAGE_DIR
from bridge.page.views.registry import PANELS, PARTS, VIEWS


@pytest.mark.parametrize("ending", ["css", "js"])
def test_every_style_and_script_is_linked(ending: str) -> None:
    """A view names its files, or a template links them; a file that nobody links has no effect."""
    files = {path.relative_to(PAGE_DIR).as_posix() for path in PAGE_DIR.glob(f"views/*/*.{ending}")}
    named = {f"{path}.{ending}" for view in VIEWS for path in (view.style, view.script) if path}
    templates = "".join(path.read_text(encoding="utf-8") for path in PAGE_DIR.glob("views/*/*.html"))
    linked = set(re.findall(rf"/static/(views/[\w/]+\.{ending})", templates))
    assert files - named - linked == set()
    assert linked <= files


def test_every_panel_and_part_belongs_to_a_view() -> None:
    """The head and the live region are on every page, and the device's card on the list of devices."""
    used = {name for view in VIEWS for name in (*view.panels, *view.aside, *view.parts)}
    assert PANELS.keys() | PARTS.keys() == used | {"head", "live_region", "device"}


def test_every_view_with_a_button_is_documented() -> None:
    """The table of views has one row for each, in the order of the buttons."""
    text = (Path(bridge.__file__).parent / "README.md").read_text(encoding="utf-8")
    table = text[text.index("| view | address | shows |") :].split("\n\n")[0].splitlines()[2:]
    rows = [tuple(cell.strip(" `") for cell in row.split("|")[1:3]) for row in table]
    assert rows == [(view.title, view.id) for view in VIEWS if not view.parent]
