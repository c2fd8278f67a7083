"""Judges a recording again with the live core: the same pack gives the same entries, to the byte.

Takes: a recording and a pack.  Gives: the entries and notes that its inputs bring about.
"""

from __future__ import annotations

from collections.abc import Iterable

from adapters.build import receiver_for
from bridge.control import Request
from bridge.inputs import Ticked
from bridge.notes import Told
from bridge.record.form import Head, Lost, PictureForm
from bridge.record.frames import picture_frame
from bridge.record.reader import Line, Recording
from bridge.requests import grant
from bridge.session import Session
from rules.judge.core import Core
from rules.packs.model import Pack
from rules.packs.trip import Trip
from rules.signals.model import Frame


def trip_of(head: Head) -> Trip:
    """The trip sheet with which the recorded session began."""
    papers = head.trip
    return Trip(papers.title, papers.values, papers.inoperative, papers.note)


class Again:
    """A session that lives on what was recorded; `told` grows with what it says."""

    def __init__(self, head: Head, pack: Pack) -> None:
        """Begin as the recorded session began, with this pack.

        Args:
            head: The recording's.
            pack: The rules, loaded with `trip_of(head)`.
        """
        self.told: list[Told] = []
        self._utc = head.began_utc
        core = Core(pack, trip_of(head), calls_heard=head.calls_heard)
        receiver = receiver_for({})
        self.session = Session(core, receiver, [self.told.append], name=head.name, wall=lambda: self._utc)
        self._link = ""
        self._blind = head.part > 1

    def take(self, line: Line) -> None:
        """Let one input in; outputs are passed over."""
        self._utc = line.utc
        match line.what:
            case Frame():
                self._link = line.what.link
                self.session.judge(line.what)
            case Ticked(recv_s=recv_s):
                self.session.let_pass(recv_s)
            case Request():
                grant(self.session, line.what)
            case Lost(frames=frames):
                self._blind = self._blind or frames > 0
            case PictureForm() if self._blind:
                self._see(line.what)

    def _see(self, picture: PictureForm) -> None:
        """Go on from how everything stood: frames were lost, or the parts before this one are not there."""
        begins = not self.session.core.session.phase
        self._blind = False
        self.session.judge(picture_frame(picture, self._link, picture.calls if begins else ()))
        for request in picture.requests if begins else ():
            grant(self.session, request.request)


def replay(recording: Recording, pack: Pack) -> list[Told]:
    """Judge a recording again.

    Args:
        recording: What was recorded.
        pack: The rules, loaded with the recording's papers (`trip_of`).

    Returns:
        Every entry, and the notes that requests bring about.
    """
    return judge_again(recording.head, recording.lines(), pack)


def judge_again(head: Head, lines: Iterable[Line], pack: Pack) -> list[Told]:
    """As `replay`, with lines from anywhere."""
    again = Again(head, pack)
    for line in lines:
        again.take(line)
    return again.told
