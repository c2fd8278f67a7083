"""Reads the body of a request, up to a maximum length.

Takes: a request.  Gives: its body, or None if the body is too long.
"""

from __future__ import annotations

import asyncio

from starlette.requests import Request as HttpRequest

from bridge.runtime.control import MAX_REQUEST_BYTES

BODY_TIMEOUT_S = 10.0


async def read_body(http_request: HttpRequest) -> bytes | None:
    """Read the body; return None as soon as it is longer than `MAX_REQUEST_BYTES`, without reading the rest.

    Raises:
        TimeoutError: It did not arrive in `BODY_TIMEOUT_S`.
    """
    body = b""
    async with asyncio.timeout(BODY_TIMEOUT_S):
        async for part in http_request.stream():
            body += part
            if len(body) > MAX_REQUEST_BYTES:
                return None
    return body
