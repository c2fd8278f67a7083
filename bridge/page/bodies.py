"""Reads what a client sends, within a bound.

Takes: a request.  Gives: its body, or None where that is too long.
"""

from __future__ import annotations

from starlette.requests import Request as Asked

from bridge.control import LONGEST


async def body_of(asked: Asked) -> bytes | None:
    """The request's body; None where it is longer than `LONGEST`, of which no more is read than needed to see that."""
    body = b""
    async for part in asked.stream():
        body += part
        if len(body) > LONGEST:
            return None
    return body
