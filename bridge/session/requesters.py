"""Checks who makes a request: a seat of the pack, a role of calls, or a person who sits in a seat.

The control port and the page use it for each request that arrives.  A recorded request is not checked again: it had been
accepted by the rules of its time.

Takes: a pack, the crew, a request.  Gives: nothing, or `InputFaults` that list who may make requests.
"""

from __future__ import annotations

from collections.abc import Collection

from bridge.session.requests import Request, command_of
from rules.faults import InputFaults, Place
from rules.packs.model import SPEAKERS, Pack
from rules.source import unknown_fault
from rules.words import join_or


def requesters(pack: Pack) -> tuple[str, ...]:
    """Return who may make requests by name: the seats of the pack, then the roles of calls."""
    return *pack.seats, *SPEAKERS


def check_requester(request: Request, pack: Pack, crew: Collection[str] = ()) -> None:
    """Check the author of a request, who may be left out.

    Args:
        request: the request.
        pack: has the seats.
        crew: pseudonyms of the persons in the seats.

    Raises:
        InputFaults: `by` is none of them.
    """
    known = requesters(pack)
    if request.by and request.by not in (*known, *crew):
        place = Place(command_of(request.verb))
        raise InputFaults([unknown_fault(place, "seat or role", request.by, known, join_or(known))])
