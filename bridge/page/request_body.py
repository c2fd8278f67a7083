"""Reads what a client sends, within a bound.

Takes: a request.  Gives: its body, or None where that is too long.
"""

from __future__ import annotations

from starlette.requests import Request as Asked

from bridge.runtime.control import MAX_REQUEST_BYTES


async def read_body(http_request: Asked) -> bytes | None:
    """The request's body; None where it is longer than `LONGEST`, of which no more is read than needed to see that."""
    body = b""
    async for part in http_request.stream():
        body += part
        if len(body) > MAX_REQUEST_BYTES:
            return None
    return body
