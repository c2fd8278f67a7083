"""Splits addresses into their parts: `SCHEME://HOST:PORT/PATH?QUERY#FRAGMENT`, and `HOST:PORT`.

Links, notifiers, the page and the mock simulator have different schemes and options, and split them here.

Takes: addresses as text.  Gives: their parts; whether they are allowed is up to the caller.
"""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import parse_qsl, urlsplit


@dataclass(frozen=True, slots=True)
class Address:
    """The parts of an address.

    Attributes:
        scheme: Before `://`, in small letters; '' for none.
        host: Without brackets; '' for none, and where host and port cannot be read.
        port: None for none, and where it is not a number from 0 to 65535.
        url: The whole address without its fragment.
        place: Host and port as written, with name and password.
        path: With its first `/`; '' for none.
        query: After `?`.
        fragment: After `#`.
    """

    scheme: str
    host: str
    port: int | None
    url: str = ""
    place: str = ""
    path: str = ""
    query: str = ""
    fragment: str = ""

    @property
    def public_text(self) -> str:
        """Scheme, host and port, without name, password, path and query, which may be secret; '' where there is no host."""
        place = self.place.rpartition("@")[2]
        return f"{self.scheme}://{place}" if place else ""

    @property
    def is_bare(self) -> bool:
        """True if nothing follows host and port but options after `#`."""
        return self.path in ("", "/") and not self.query


def split_address(text: str) -> Address:
    """Split an address.

    Raises:
        ValueError: It cannot be split: a bracket without its other one.
    """
    parts = urlsplit(text)
    try:
        host, port = parts.hostname or "", parts.port
    except ValueError:  # the port is not a number
        host, port = "", None
    url = parts._replace(fragment="").geturl()
    return Address(parts.scheme, host, port, url, parts.netloc, parts.path, parts.query, parts.fragment)


def split_host_port(text: str) -> tuple[str, int] | None:
    """Split `HOST:PORT`; an IPv6 host is in brackets; None for any other text."""
    try:
        address = split_address(f"//{text}")
    except ValueError:
        return None
    if not address.host or address.port is None or address.place != text or "@" in text:
        return None
    return address.host, address.port


def split_options(text: str) -> list[tuple[str, str]]:
    """Split the options of a query or fragment, `name=value&name=value`, in their order; values may be empty."""
    return parse_qsl(text, keep_blank_values=True)
