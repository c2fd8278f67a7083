"""Events on the bus of a device that are no events of a session: they are not recorded, stored or sent.

Takes: nothing.  Gives: the types of these events.
"""

from __future__ import annotations

from enum import Enum, auto
from typing import NamedTuple

from bridge.session.session import Session


class SessionCreated(NamedTuple):
    """There is another session, which has published nothing yet."""

    session: Session


class RunnerTicked(NamedTuple):
    """The runner ticked, and the session has processed the tick; `now_s` on the runner's clock."""

    now_s: float


class PersistencePart(Enum):
    """The parts of persistence that may have a problem, in the order in which screens show them."""

    STORE = auto()
    RECORDING = auto()


class PersistenceProblem(NamedTuple):
    """The present problem of storing or recording changed; `text` is '' for none."""

    part: PersistencePart
    text: str
