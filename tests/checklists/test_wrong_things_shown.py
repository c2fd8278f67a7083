"""Many things wrong at once when a checklist is read on the page: no line of them is shown or spoken as met."""

from __future__ import annotations

import re
from functools import partial
from typing import NamedTuple

import pytest

from bridge.page.widgets.voice.speech_source import SpeechSource
from bridge.session.checklist_run import DWELL_S
from rules.signals.model import Frame
from tests.bridge.page.page_builders import FlownDevice, RenderedHtml
from tests.checklists.read_lists import JudgedState, fly
from tests.checklists.test_wrong_things import WRONG
from tests.shipped import shipped


class ReadOnPage(NamedTuple):
    """What the page shows and speaks of one checklist that is read to its end.

    Attributes:
        current: What each line shows while it is read, by key.
        leave_open: Keys of the lines that do not go on by themselves.
        end: What the page shows after the last line.
        spoken: Sentences that the voice speaks while the list is read.
    """

    current: dict[str, RenderedHtml]
    leave_open: set[str]
    end: RenderedHtml
    spoken: list[str]


class _DeviceState(JudgedState):
    """Signals that go into a device with a page."""

    def __init__(self, page: FlownDevice) -> None:
        super().__init__(page.device.session.judge)
        self.page = page

    def judge_frame(self, frame: Frame) -> None:
        """Judge a frame in the device's session."""
        self.page.device.runner.judge_frame(frame)


def _read(page: FlownDevice, name: str) -> ReadOnPage:
    """Read a checklist on the page; a line that does not go on by itself is left open."""
    feed, current, left = SpeechSource(page.device, lambda: None).open_feed(), {}, set[str]()
    assert page.ask("start_checklist", name).accepted
    spoken = list(feed())
    while (run := page.device.session.checklist_run) is not None and (line := run.line) is not None:
        key = line.id.split(".")[2]
        current[key] = page.shown("checklist")
        page.device.session.advance_checklist(page.clock())
        page.clock.now_s += DWELL_S
        page.device.session.advance_checklist(page.clock())
        if run.line is line:
            left.add(key)
            assert page.ask("leave_open", name).accepted
        spoken += feed()
    end = page.shown("checklist")
    page.ask("close_checklist", name)
    texts = [str(data) for kind, data in spoken if kind == "speech"]
    return ReadOnPage(current, left, end, texts)


def _read_wrong(found: dict[str, ReadOnPage], name: str, judged: JudgedState) -> None:
    """Read a checklist with its wrong things, and set them right again."""
    if name not in WRONG:
        return
    assert isinstance(judged, _DeviceState)
    right = {signal: judged.state[signal] for signal in WRONG[name].put}
    judged.put(WRONG[name].put)
    found[name] = _read(judged.page, name)
    judged.put(right, 4.0)


@pytest.fixture(scope="module")
def on_page() -> dict[str, ReadOnPage]:
    """One flight, on which everything is wrong while each of these checklists is read on the page."""
    found: dict[str, ReadOnPage] = {}
    pack, trip = shipped("twin_jet")
    page = FlownDevice(pack, trip=trip)
    fly("twin_jet", partial(_read_wrong, found), until="landing", flown=_DeviceState(page))
    return found


@pytest.mark.parametrize("name", WRONG)
def test_the_page_confirms_no_line_of_them(on_page: dict[str, ReadOnPage], name: str) -> None:
    """Exactly the lines of what is wrong stop the reading; none of them has a tick, and the others have one."""
    read = on_page[name]
    assert read.leave_open == WRONG[name].lines
    ticked = {key for key, shown in read.current.items() if "Met" in _current_line(shown)}
    assert ticked == read.current.keys() - WRONG[name].lines
    assert all("Not met" in _current_line(read.current[key]) for key in WRONG[name].lines)


@pytest.mark.parametrize("name", WRONG)
def test_the_end_of_the_list_is_not_complete(on_page: dict[str, ReadOnPage], name: str) -> None:
    """After the last line the page says how many are open and which, and nowhere that the list is complete."""
    end, lines = on_page[name].end, WRONG[name].lines
    assert f"{len(lines)} still open" in end.words
    assert " complete" not in end.words
    assert sum(one.startswith("open-line-") for one in end.ids) == len(lines)


@pytest.mark.parametrize("name", WRONG)
def test_the_voice_confirms_nothing(on_page: dict[str, ReadOnPage], name: str) -> None:
    """The voice speaks each challenge once, and no answer to any."""
    spoken = " ".join(on_page[name].spoken)
    challenges = [line.challenge for line in shipped("twin_jet")[0].checklists[name].lines]
    assert all(challenge in spoken for challenge in challenges)
    assert not re.search(r"complete|checked|\bmet\b", spoken)


def _current_line(shown: RenderedHtml) -> str:
    """Words of the line that is read now."""
    match = re.search(r'<section class="current".*?</section>', shown.html, re.DOTALL)
    assert match is not None
    return " ".join(re.sub(r"<[^>]*>", " ", match[0]).split())
