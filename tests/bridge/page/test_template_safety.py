"""Tests of the page's templates: every panel is safe in every state, has unique ids, and loads.

Takes: a flight that goes through many states, with plain and with hostile texts.  Gives: tests.
"""

from __future__ import annotations

from collections import Counter

import pytest

from bridge.page.renderer import PAGE_DIR, Renderer
from bridge.page.views.registry import PANELS, PARTS, VIEWS
from tests.bridge.page.page_builders import HOSTILE, PACK, FlownDevice, RenderedHtml, page_pack

ELSEWHERE = {"timeline", "link", "trip_sheet"}
"""Panels whose own tests give them hostile texts."""
TESTED_PANELS = tuple(name for name in PANELS if name not in ELSEWHERE)
QUOTED = '"' + HOSTILE.replace("\\", "\\\\").replace('"', '\\"') + '"'


def hostile_text() -> str:
    """Replace every title, label, sentence and answer of the pack with a hostile text."""
    text = PACK
    for plain in (
        "Captain",
        "First officer",
        "Push back",
        "Before push back",
        "Documents on board",
        "departure clearance",
        "push approved",
        "Before push",
        "Oil pressure",
        "people near the engines look for it",
        "At the stand",
    ):
        text = text.replace(f": {plain}}}", f": {QUOTED}}}").replace(f": {plain},", f": {QUOTED},")
        text = text.replace(f": {plain}\n", f": {QUOTED}\n")
    return text.replace("beacon: Beacon, answer", f"beacon: {QUOTED}, answer")


def panels_in_all_states(flown: FlownDevice) -> list[str]:
    """Take a flight through its states and render every panel in each of them."""
    texts: list[str] = []

    def render() -> None:
        texts.extend(Renderer().panel_renderer(name, flown.device)() for name in TESTED_PANELS)

    render()
    flown.frame(0.0, {"lights.beacon": "off"})
    render()
    flown.ask("assign_seat", "captain", "instructor", HOSTILE[:50])
    flown.ask("call", "clearance", HOSTILE)
    flown.ask("start_checklist", "before")
    render()
    flown.frame(1.0, {"lights.beacon": "off", "engine.1.n2": 60.0, "engine.1.oil_pressure": 5.0})
    for second in range(2, 6):
        flown.frame(second, {"lights.beacon": "off"}, push_approved=1.5)
    flown.ask("waive", "flow.before.pressure", "instructor", HOSTILE)
    for _ in range(4):
        flown.ask("leave_open")
    render()
    flown.ask("mute")
    flown.ask("pause")
    flown.pass_time(60.0)
    render()
    flown.ask("start_session", "Next")
    render()
    return texts


@pytest.fixture(scope="module", params=["plain", "hostile"])
def texts(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """Every panel in many states, with plain and with hostile texts."""
    text = PACK if request.param == "plain" else hostile_text()
    return panels_in_all_states(FlownDevice(page_pack(tmp_path_factory.mktemp("texts") / "pack", text)))


def test_the_hostile_pack_is_hostile() -> None:
    """The hostile texts reach the pack; else these tests would test nothing."""
    assert hostile_text().count("<script>") >= 9


def test_no_text_becomes_a_tag(texts: list[str]) -> None:
    """No text of a pack, a person or a signal becomes an element, an event handler or a style."""
    for text in texts:
        for tag, attributes in RenderedHtml(text).tags:
            assert tag not in ("script", "img", "style", "iframe")
            assert not [name for name in attributes if name.startswith("on") or name == "style"]


def test_ids_are_unique(texts: list[str]) -> None:
    """No panel has an id twice; updates and the focus depend on ids."""
    for text in texts:
        duplicates = [name for name, count in Counter(RenderedHtml(text).ids).items() if count > 1]
        assert duplicates == []


def test_panels_of_one_view_share_no_id(flown: FlownDevice) -> None:
    """The ids of all panels of a view are unique."""
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.ask("start_checklist", "before")
    renderer = Renderer()
    for view in VIEWS:
        names = [name for name in ("head", "live_region", *view.panels, *view.aside) if name in TESTED_PANELS]
        ids = [
            one for name in names for one in RenderedHtml(renderer.panel_renderer(name, flown.device)()).ids
        ]
        assert [name for name, count in Counter(ids).items() if count > 1] == [], view.id


def test_labels_and_descriptions_refer_to_elements(texts: list[str]) -> None:
    """Every `for`, aria-labelledby and aria-describedby names an id of the same panel."""
    for text in texts:
        seen = RenderedHtml(text)
        named = [
            *seen.attribute("for"),
            *seen.attribute("aria-labelledby"),
            *seen.attribute("aria-describedby"),
        ]
        assert set(named) <= set(seen.ids)


def test_repeated_elements_have_ids(texts: list[str]) -> None:
    """List items, folds, articles and action buttons have ids, so that an update finds them again."""
    for text in texts:
        for tag, attributes in RenderedHtml(text).tags:
            if tag in ("li", "details", "article") or (tag == "button" and "data-do" in attributes):
                assert attributes.get("id"), (tag, attributes)


def test_views_name_known_panels_and_parts() -> None:
    """A view names only panels and parts of the registry."""
    for view in VIEWS:
        assert set(view.panels) | set(view.aside) <= set(PANELS)
        assert set(view.parts) <= set(PARTS)


@pytest.mark.parametrize(
    "template", [*(panel.template for panel in PANELS.values()), *(path for path, _ in PARTS.values())]
)
def test_templates_of_the_registry_exist(template: str) -> None:
    """Every template of the registry is a file beside the code of its view or widget."""
    assert (PAGE_DIR / template).is_file()
