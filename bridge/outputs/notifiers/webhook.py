"""A webhook: each message is one HTTP POST of JSON, one after the other.

A 2xx answer is well.  408, 425, 429, 5xx and no answer are tried again (`Retry-After` is kept within our own
bounds); every other answer, a redirect too, means that the receiver does not want it.  Certificates are verified.

`Idempotency-Key` names the message, so that who gets one twice can tell (IETF draft-ietf-httpapi-idempotency-key-header:
a string in quotes).  With a secret, `Holdshort-Signature: sha256=HEX` is the HMAC-SHA256 (RFC 2104) of the body's bytes.

Takes: envelopes.  Gives: requests.
"""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import time
from urllib.parse import urlsplit

import httpx
import msgspec

from bridge.outputs.notifiers.base import Clock, DeliveryLimits, KindFilter, Notifier, SendError, Wait
from bridge.outputs.notifiers.envelope import Envelope

MAX_BODY_BYTES = 64 * 1024
MAX_RESPONSE_BYTES = 4 * 1024
"""Bytes; an answer's rest is not read."""
RETRY_STATUS_CODES = frozenset((408, 425, 429))


class WebhookNotifier(Notifier):
    """Posts to one address."""

    kind_filter = KindFilter(exclude=("verdict", "trace"))

    def __init__(
        self,
        url: str,
        *,
        secret: bytes = b"",
        limits: DeliveryLimits | None = None,
        kind_filter: KindFilter | None = None,
        clock: Clock = time.monotonic,
        wait: Wait = asyncio.sleep,
        transport: httpx.AsyncBaseTransport | None = None,
    ) -> None:
        """Nothing is opened yet.

        Args:
            url: An http or https address; what follows the host may be secret, and is not said in sentences.
            secret: Signs the bodies; empty: they are not signed.
            limits: As for every notifier.
            kind_filter: As for every notifier.
            clock: As for every notifier.
            wait: As for every notifier.
            transport: How requests travel; None: over the network.
        """
        parts = urlsplit(url)
        host = parts.netloc.rpartition("@")[2]
        super().__init__(
            f"webhook {parts.scheme}://{host}", limits=limits, kind_filter=kind_filter, clock=clock, wait=wait
        )
        self.request_count = 0
        self._url = url
        self._secret = secret
        self._transport = transport
        self._client: httpx.AsyncClient | None = None

    async def _open(self) -> None:
        """Make the client; the first connection is made by the first message."""
        self._client = httpx.AsyncClient(
            timeout=self.limits.attempt_timeout_s, follow_redirects=False, transport=self._transport
        )

    async def _send(self, message: Envelope) -> None:
        body = msgspec.json.encode(message.as_dict())
        if len(body) > MAX_BODY_BYTES:
            raise SendError(f"larger than {MAX_BODY_BYTES} bytes", retry=False)
        if self._client is None:
            raise SendError("not open")
        self.request_count += 1
        try:
            async with self._client.stream(
                "POST", self._url, content=body, headers=self._headers(message, body)
            ) as answer:
                await _discard_response(answer)
        except httpx.TransportError as error:
            raise SendError(_error_text(error)) from error
        check_response(answer)

    async def _close(self) -> None:
        if self._client is not None:
            await self._client.aclose()

    def _headers(self, message: Envelope, body: bytes) -> dict[str, str]:
        headers = {"Content-Type": "application/json", "Idempotency-Key": f'"{message.key}"'}
        if self._secret:
            headers["Holdshort-Signature"] = signature(self._secret, body)
        return headers


def signature(secret: bytes, body: bytes) -> str:
    """What a receiver compares, in constant time, with what it works out itself."""
    return f"sha256={hmac.new(secret, body, hashlib.sha256).hexdigest()}"


def check_response(response: httpx.Response) -> None:
    """Whether the receiver took it.

    Raises:
        SendError: It did not; says whether it may later.
    """
    code = response.status_code
    if response.is_success:
        return
    if code in RETRY_STATUS_CODES or code >= 500:
        raise SendError(f"the receiver answers {code}", retry_after_s=_retry_after_s(response))
    if response.has_redirect_location:
        raise SendError(f"the receiver answers {code}, a redirect, which is not followed", retry=False)
    raise SendError(f"the receiver answers {code} and does not want it", retry=False)


def _retry_after_s(response: httpx.Response) -> float:
    """`Retry-After` in seconds (RFC 9110, 10.2.3); its other form, a date, is not read."""
    asked = response.headers.get("Retry-After", "")
    return float(asked) if asked.isascii() and asked.isdigit() and len(asked) < 7 else 0.0


async def _discard_response(response: httpx.Response) -> None:
    """Read a short answer to its end, so that the connection can be used again; of a long one only the beginning."""
    size = 0
    async for part in response.aiter_raw(MAX_RESPONSE_BYTES):
        size += len(part)
        if size >= MAX_RESPONSE_BYTES:
            return


def _error_text(error: httpx.TransportError) -> str:
    """In words, without the address."""
    match error:
        case httpx.ConnectTimeout() | httpx.ReadTimeout() | httpx.WriteTimeout() | httpx.PoolTimeout():
            return "no answer in time"
        case httpx.ConnectError():
            return f"cannot be reached ({error})"
    return f"the exchange broke off ({type(error).__name__})"
