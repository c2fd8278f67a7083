"""Tests of the page's templates: every panel in every state is safe, has ids once, and can be touched by name."""

from __future__ import annotations

from collections import Counter

import pytest

from bridge.page.renderer import Renderer
from bridge.page.views.registry import PANELS, VIEWS
from tests.bridge.page.page_builders import HOSTILE, PACK, FlownDevice, RenderedHtml, page_pack

OURS = (
    "ahead",
    "aloud",
    "calls",
    "checklist",
    "device",
    "entering",
    "excusing",
    "findings",
    "flows",
    "head",
    "instructor",
    "told",
)
QUOTED = '"' + HOSTILE.replace("\\", "\\\\").replace('"', '\\"') + '"'


def hostile_text() -> str:
    """The pack with a hostile text in every title, label, sentence and answer that its author writes."""
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
    return text.replace("challenge: Beacon", f"challenge: {QUOTED}")


def stages(flown: FlownDevice) -> list[str]:
    """Takes a flight through its states, and gives every panel in each of them."""
    texts: list[str] = []

    def look() -> None:
        texts.extend(Renderer().panel_renderer(name, flown.device)() for name in OURS)

    look()
    flown.frame(0.0, {"lights.beacon": "off"})
    look()
    flown.ask("assign_seat", "captain", "instructor", HOSTILE[:50])
    flown.ask("call", "clearance", HOSTILE)
    flown.ask("start_checklist", "before")
    look()
    flown.frame(1.0, {"lights.beacon": "off", "engine.1.n2": 60.0, "engine.1.oil_pressure": 5.0})
    for second in range(2, 6):
        flown.frame(second, {"lights.beacon": "off"}, push_approved=1.5)
    flown.ask("waive", "flow.before.pressure", "instructor", HOSTILE)
    for _ in range(4):
        flown.ask("leave_open")
    look()
    flown.ask("mute")
    flown.ask("pause")
    flown.pass_time(60.0)
    look()
    flown.ask("start_session", "Next")
    look()
    return texts


@pytest.fixture(scope="module", params=["plain", "hostile"])
def texts(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """Every panel in many states, of a pack with plain and one with hostile texts."""
    text = PACK if request.param == "plain" else hostile_text()
    return stages(FlownDevice(page_pack(tmp_path_factory.mktemp("texts") / "pack", text)))


def test_the_hostile_pack_is_hostile() -> None:
    """The texts that are put in do reach the pack; else nothing would be tested here."""
    assert hostile_text().count("<script>") >= 9


def test_nothing_written_becomes_a_tag(texts: list[str]) -> None:
    """No text of a pack, a person or a signal becomes an element, an attribute that runs, or a style."""
    for text in texts:
        for tag, attributes in RenderedHtml(text).tags:
            assert tag not in ("script", "img", "style", "iframe")
            assert not [name for name in attributes if name.startswith("on") or name == "style"]


def test_ids_stand_once(texts: list[str]) -> None:
    """In no panel does an id stand twice, for updates and the keyboard's place go by them."""
    for text in texts:
        twice = [name for name, count in Counter(RenderedHtml(text).ids).items() if count > 1]
        assert twice == []


def test_ids_of_panels_that_stand_together_differ(flown: FlownDevice) -> None:
    """The panels of one view share no id."""
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.ask("start_checklist", "before")
    show = Renderer()
    for view in VIEWS:
        names = [name for name in ("head", "aloud", *view.panels, *view.aside) if name in OURS]
        ids = [one for name in names for one in RenderedHtml(show.panel_renderer(name, flown.device)()).ids]
        assert [name for name, count in Counter(ids).items() if count > 1] == [], view.id


def test_labels_and_descriptions_point_at_something(texts: list[str]) -> None:
    """Every `for`, aria-labelledby and aria-describedby names an id of the same panel."""
    for text in texts:
        seen = RenderedHtml(text)
        named = [
            *seen.attribute("for"),
            *seen.attribute("aria-labelledby"),
            *seen.attribute("aria-describedby"),
        ]
        assert set(named) <= set(seen.ids)


def test_everything_that_repeats_has_an_id(texts: list[str]) -> None:
    """List items, folds, articles and buttons that ask have ids, so that an update finds them again."""
    for text in texts:
        for tag, attributes in RenderedHtml(text).tags:
            if tag in ("li", "details", "article") or (tag == "button" and "data-do" in attributes):
                assert attributes.get("id"), (tag, attributes)


def test_every_panel_of_every_view_is_known() -> None:
    """A view names only panels that there are."""
    for view in VIEWS:
        assert set(view.panels) | set(view.aside) <= set(PANELS)
