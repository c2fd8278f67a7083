"""A notifier that sends each message as one HTTP POST of JSON, one after the other.

An answer of 2xx is success.  408, 425, 429, 5xx and no answer are retried (`Retry-After` counts within our own limits); every
other answer, a redirect too, is a refusal.  Certificates are verified.

`Idempotency-Key` identifies the message, so that a receiver can detect a repetition (IETF
draft-ietf-httpapi-idempotency-key-header: a string in quotes).  With a secret, `Holdshort-Signature: sha256=HEX` is the
HMAC-SHA256 (RFC 2104) of the body's bytes.

Takes: envelopes.  Gives: requests.
"""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import time

import httpx
import msgspec

from adapters.addresses import split_address
from bridge.outputs.notifiers.base import Clock, DeliveryLimits, KindFilter, Notifier, SendError, Wait
from bridge.outputs.notifiers.envelope import Envelope

MAX_BODY_BYTES = 64 * 1024
MAX_RESPONSE_BYTES = 4 * 1024
"""Bytes; the rest of a longer answer is not read."""
RETRY_STATUS_CODES = frozenset((408, 425, 429))


class WebhookNotifier(Notifier):
    """Posts messages to one address."""

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
        """Make a webhook.

        Args:
            url: An http or https address; the part after the host may be secret and is never shown.
            secret: The key of the signature; empty for no signature.
            limits: As for every notifier.
            kind_filter: As for every notifier.
            clock: As for every notifier.
            wait: As for every notifier.
            transport: The transport of the requests; None for the network.
        """
        super().__init__(
            f"webhook {split_address(url).public_text}",
            limits=limits,
            kind_filter=kind_filter,
            clock=clock,
            wait=wait,
        )
        self.request_count = 0
        self._url = url
        self._secret = secret
        self._transport = transport
        self._client: httpx.AsyncClient | None = None

    async def _open(self) -> None:
        """Make the client; it connects with the first message."""
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
    """The value of the header `Holdshort-Signature`; receivers compute it themselves and compare in constant time."""
    return f"sha256={hmac.new(secret, body, hashlib.sha256).hexdigest()}"


def check_response(response: httpx.Response) -> None:
    """Check the status code of an answer.

    Raises:
        SendError: The message was not accepted; `retry` is true if it may be accepted later.
    """
    code = response.status_code
    if response.is_success:
        return
    if code in RETRY_STATUS_CODES or code >= 500:
        raise SendError(f"the receiver answered {code}", retry_after_s=_retry_after_s(response))
    if response.has_redirect_location:
        raise SendError(f"the receiver answered {code}, a redirect; redirects are not followed", retry=False)
    raise SendError(f"the receiver refused the message ({code})", retry=False)


def _retry_after_s(response: httpx.Response) -> float:
    """The header `Retry-After` in seconds (RFC 9110, 10.2.3); its form with a date is ignored."""
    header = response.headers.get("Retry-After", "")
    return float(header) if header.isascii() and header.isdigit() and len(header) < 7 else 0.0


async def _discard_response(response: httpx.Response) -> None:
    """Read at most `MAX_RESPONSE_BYTES`: a short answer is read to its end, so that the connection can be reused."""
    size = 0  # a receiver may send an endless answer
    async for part in response.aiter_raw(MAX_RESPONSE_BYTES):
        size += len(part)
        if size >= MAX_RESPONSE_BYTES:
            return


def _error_text(error: httpx.TransportError) -> str:
    """The error as text, without the address."""
    match error:
        case httpx.ConnectTimeout() | httpx.ReadTimeout() | httpx.WriteTimeout() | httpx.PoolTimeout():
            return "no answer in time"
        case httpx.ConnectError():
            return f"cannot be reached ({error})"
    return f"the connection failed ({type(error).__name__})"
