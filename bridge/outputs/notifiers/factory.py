"""Makes notifiers from the addresses of the command line.

    zmq-pub://127.0.0.1:5140    udp-line://127.0.0.1:5150    https://host/path    sound:

Options follow `#`, separated by `&`; `OPTIONS` lists them.  (A query is part of a webhook's address.)

Takes: addresses.  Gives: notifiers that are not yet running.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from adapters.addresses import Address, split_address, split_options
from bridge.outputs.notifiers.base import KindFilter, Notifier
from bridge.session.session_events import KINDS
from rules.faults import Fault, InputFaults, Place
from rules.source import did_you_mean, unknown_word
from rules.words import join_or

OPTION = "--notify"
MAX_SECRET_BYTES = 4096
LINE_BYTES_RANGE = (40, 1400)
ONLY = "only"
OPTIONS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        ONLY: (
            "every notifier",
            "The kinds to send, separated by commas: a whole kind (`finding/opened`) or its first word (`finding`).",
        ),
        "secret-file": ("webhook", "The file with the secret of the signature."),
        "secret-env": (
            "webhook",
            "The environment variable with the secret of the signature; not together with `secret-file`.",
        ),
        "longest": ("line", "The longest line in bytes, 40 to 1400; 240 if not given."),
    }
)
"""Every option: the notifiers that have it, and its meaning."""
_Options = dict[str, str]


class _AddressError(Exception):
    def __init__(self, what: str, expected: str = "", hint: str = "") -> None:
        super().__init__(what)
        self.fault = Fault(Place(OPTION), what, expected, hint)


def make_notifiers(addresses: Iterable[str]) -> list[Notifier]:
    """Make a notifier for each address.

    Raises:
        InputFaults: All addresses that are wrong.
    """
    notifiers: list[Notifier] = []
    faults: list[Fault] = []
    given = list(addresses)
    for address in dict.fromkeys(given):
        try:
            notifiers.append(_make_notifier(address, given.count(address)))
        except _AddressError as error:
            faults.append(error.fault)
    if faults:
        raise InputFaults(faults)
    return notifiers


def _make_notifier(address: str, count: int) -> Notifier:
    parts = _split_address(address)
    if count > 1:
        raise _AddressError(f"'{_public_part(parts, address)}' is given {count} times", "each address once")
    scheme = _find_scheme(parts, address)
    options = _parse_options(parts, (*scheme.options, ONLY))
    return scheme.make(parts, options, _kind_filter(options))


def _find_scheme(parts: Address, address: str) -> AddressScheme:
    if parts.scheme not in SCHEMES:
        hint = did_you_mean(parts.scheme, SCHEMES)
        raise _AddressError(f"'{_public_part(parts, address)}' is no output", _EXAMPLES, hint)
    return SCHEMES[parts.scheme]


def _make_zmq(parts: Address, _: _Options, kind_filter: KindFilter | None) -> Notifier:
    from ipaddress import ip_address

    from bridge.outputs.notifiers.zeromq import LOOPBACK, ZmqNotifier

    host, port = _host_and_port(parts)
    host = LOOPBACK if host in ("", "localhost") else host
    try:
        ip_address(host)
    except ValueError:
        raise _AddressError(
            f"'{host}' is not an address of this machine", "four numbers such as 127.0.0.1"
        ) from None
    return ZmqNotifier(host, port, kind_filter=kind_filter)


def _make_udp_line(parts: Address, options: _Options, kind_filter: KindFilter | None) -> Notifier:
    from bridge.outputs.notifiers.udp_line import MAX_LINE_BYTES, UdpLineNotifier

    host, port = _host_and_port(parts)
    if not host:
        raise _AddressError(f"udp-line needs the host of port {port}", "udp-line://127.0.0.1:5150")
    longest = options.get("longest", str(MAX_LINE_BYTES))
    low, high = LINE_BYTES_RANGE
    if not (longest.isascii() and longest.isdigit() and low <= int(longest[:6]) <= high):
        raise _AddressError(f"longest={longest} is not a line length", f"{low} to {high} bytes")
    return UdpLineNotifier(host, port, max_bytes=int(longest), kind_filter=kind_filter)


def _make_webhook(parts: Address, options: _Options, kind_filter: KindFilter | None) -> Notifier:
    from bridge.outputs.notifiers.webhook import WebhookNotifier

    if not parts.host:
        raise _AddressError(
            "a webhook's address has no host, or its port is not a number", "https://HOST/PATH"
        )
    return WebhookNotifier(parts.url, secret=_find_secret(options), kind_filter=kind_filter)


def _make_sound(parts: Address, _: _Options, kind_filter: KindFilter | None) -> Notifier:
    from bridge.outputs.notifiers.sound import SoundNotifier

    if parts.place or parts.path or parts.query:
        raise _AddressError("a sound has no address", "sound:")
    return SoundNotifier(kind_filter=kind_filter)


@dataclass(frozen=True, slots=True)
class AddressScheme:
    """One scheme of addresses.

    Attributes:
        make: Makes its notifier.
        options: Its options besides `only`.
        example: An address, for faults and documents.
        description: What is sent there, for the documents.
    """

    make: Callable[[Address, _Options, KindFilter | None], Notifier]
    options: tuple[str, ...]
    example: str
    description: str


SCHEMES: Mapping[str, AddressScheme] = MappingProxyType(
    {
        "zmq-pub": AddressScheme(
            _make_zmq,
            (),
            "zmq-pub://127.0.0.1:5140",
            "Published over ZeroMQ: topic and MessagePack. An address other than loopback can be reached from outside, "
            "and subscribers are not checked.",
        ),
        "udp-line": AddressScheme(
            _make_udp_line,
            ("longest",),
            "udp-line://127.0.0.1:5150",
            "One line of text in a datagram, for a simulator that shows messages.",
        ),
        "https": AddressScheme(
            _make_webhook,
            ("secret-file", "secret-env"),
            "https://HOST/PATH",
            "A POST of JSON for each message.",
        ),
        "http": AddressScheme(
            _make_webhook,
            ("secret-file", "secret-env"),
            "http://HOST/PATH",
            "The same without encryption.",
        ),
        "sound": AddressScheme(
            _make_sound, (), "sound:", "A sound on this machine for each notice; needs the extra `voice`."
        ),
    }
)
"""Every scheme by its name."""
_EXAMPLES = "zmq-pub://127.0.0.1:5140, udp-line://127.0.0.1:5150, https://HOST/PATH or sound:"


def _split_address(address: str) -> Address:
    """Split an address; the standard library raises ValueError for some."""
    try:
        return split_address(address)
    except ValueError as error:
        raise _AddressError(f"an address cannot be read ({error})", _EXAMPLES) from None


def _public_part(parts: Address, address: str) -> str:
    """The scheme and host of an address, without its path, query and password, which may be secret."""
    return parts.public_text or address[:40]


def _host_and_port(parts: Address) -> tuple[str, int]:
    if parts.port is None or not parts.is_bare:
        raise _AddressError(f"'{parts.public_text}' has no port, or more than host and port", _EXAMPLES)
    return parts.host, parts.port


def _parse_options(parts: Address, known: tuple[str, ...]) -> _Options:
    options: _Options = {}
    for name, value in split_options(parts.fragment):
        if name not in known:
            raise _AddressError(
                f"{parts.scheme} has no option {name}", join_or(known), did_you_mean(name, known)
            )
        if name in options or not value:
            raise _AddressError(f"option {name} is empty or given twice", f"#{name}=...")
        options[name] = value
    return options


def _kind_filter(options: _Options) -> KindFilter | None:
    if ONLY not in options:
        return None
    words = tuple(word.strip() for word in options[ONLY].split(","))
    kinds = set(KINDS.values())
    known = sorted(kinds | {kind.partition("/")[0] for kind in kinds})
    for word in words:
        if word not in known:
            raise _AddressError(*unknown_word("kind", word, known, join_or(known)))
    return KindFilter(include=words)


def _find_secret(options: _Options) -> bytes:
    match options.get("secret-file"), options.get("secret-env"):
        case None, None:
            return b""
        case None, str(name):
            secret = os.environ.get(name, "").encode()
            if not secret:
                raise _AddressError(
                    f"the environment variable {name} is empty or not set", "the webhook's secret"
                )
            return secret
        case str(path), None:
            return _secret_from_file(Path(path))
    raise _AddressError("a webhook has one secret", "secret-file or secret-env, not both")


def _secret_from_file(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            secret = file.read(MAX_SECRET_BYTES + 1).strip()
    except OSError as error:
        raise _AddressError(
            f"the secret in {path} cannot be read: {error.strerror}", "a file with one line"
        ) from None
    if not secret or len(secret) > MAX_SECRET_BYTES:
        raise _AddressError(
            f"the file {path} is empty or too long for a secret", f"1 to {MAX_SECRET_BYTES} bytes"
        )
    return secret
