"""Ties recorders to rigs: who is recorded where, and that troubles are told.

Takes: rigs and a folder.  Gives: a block of time in which they are recorded.
"""

from __future__ import annotations

import asyncio
import hashlib
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import replace
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import msgspec

from bridge.notes import Change
from bridge.record.form import FORM, Head, Papers, Rules
from bridge.record.recorder import Recorder
from bridge.record.writer import Limits
from bridge.rig import Rig
from bridge.session import Session
from rules.packs.model import Pack


def program_version() -> str:
    """The version of this program; 'unknown' where it runs without being installed."""
    try:
        return version("holdshort")
    except PackageNotFoundError:
        return "unknown"


def digest_of(pack: Pack) -> str:
    """A hash of all that a loaded pack says; its faults are left out, since they name files."""
    encoder = msgspec.json.Encoder(enc_hook=_plain, order="deterministic")
    return hashlib.sha256(encoder.encode(replace(pack, faults=()))).hexdigest()


def _plain(value: Any) -> object:  # noqa: ANN401 - whatever a pack holds
    """Mappings as dictionaries, functions of the arithmetic by their names."""
    return dict(value.items()) if hasattr(value, "items") else value.__qualname__


def head_of(rig: Rig, session: Session) -> Head:
    """What a recording says first of a session that begins on a rig."""
    pack, papers = rig.pack, rig.papers
    return Head(
        form=FORM,
        program=program_version(),
        session=session.uuid,
        name=session.name,
        device=rig.id,
        title=rig.title,
        began_utc=session.began_utc,
        pack=Rules(pack.id, pack.title, pack.version, digest_of(pack)),
        trip=Papers(papers.title, dict(session.core.papers), papers.inoperative, papers.note),
        course=session.course,
    )


class Watched:
    """A rig and its recorder; says each trouble once, as a note of the session."""

    def __init__(self, rig: Rig, recorder: Recorder) -> None:
        """Record the rig from now on."""
        self._rig, self._recorder = rig, recorder
        self._told = ""
        self._warned = ""
        rig.attend(self._begin)
        rig.run.beats.append(self.look)
        rig.troubles.append(lambda: recorder.trouble or recorder.warning)

    def _begin(self, session: Session) -> None:
        self._told, self._warned = "", ""
        self._recorder.begin(session, head_of(self._rig, session))

    def look(self) -> None:
        """Tell a trouble that is new, and early that there will be one."""
        warning = self._recorder.warning
        if bool(warning) != bool(self._warned):
            self._warned = warning
            if warning:
                self._rig.session.note(Change.NEARLY_FULL, warning)
        trouble = self._recorder.trouble
        if trouble != self._told:
            self._told = trouble
            if trouble:
                self._rig.session.note(Change.UNRECORDED, trouble)


@asynccontextmanager
async def recorded(
    rigs: Sequence[Rig], folder: Path | None, limits: Limits | None = None
) -> AsyncIterator[list[Recorder]]:
    """Record every session of some rigs while the block runs.

    Args:
        rigs: The devices.
        folder: Where recordings go; it exists.  None: nothing is recorded.
        limits: Of sizes.

    Yields:
        A recorder for each rig.
    """
    recorders = [Recorder(folder, limits) for _ in rigs] if folder is not None else []
    for rig, recorder in zip(rigs, recorders, strict=False):
        Watched(rig, recorder)
        recorder.start()
    try:
        yield recorders
    finally:
        await asyncio.gather(*(asyncio.to_thread(recorder.close) for recorder in recorders))
