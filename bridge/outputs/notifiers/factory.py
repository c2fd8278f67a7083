"""Addresses on a command line become ways out.

    zmq-pub://127.0.0.1:5140    udp-line://127.0.0.1:5150    https://host/path    sound:

Options stand after `#`, parted by `&`: `only=notice,finding` for every one; `secret-file=PATH` or `secret-env=NAME`
for a webhook; `longest=BYTES` for a line.  (A query belongs to the receiver of a webhook.)

Takes: addresses.  Gives: notifiers, not yet running.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from urllib.parse import SplitResult, parse_qsl, urlsplit

from bridge.outputs.notifiers.base import KindFilter, Notifier
from bridge.session.session_events import KINDS
from rules.faults import Fault, InputFaults, Place
from rules.source import did_you_mean

OPTION = "--notify"
MAX_SECRET_BYTES = 4096
LINE_BYTES_RANGE = (40, 1400)
_EXAMPLES = "zmq-pub://127.0.0.1:5140, udp-line://127.0.0.1:5150, https://HOST/PATH or sound:"
_Options = dict[str, str]


class _AddressError(Exception):
    def __init__(self, what: str, expected: str = "", hint: str = "") -> None:
        super().__init__(what)
        self.fault = Fault(Place(OPTION), what, expected, hint)


def make_notifiers(addresses: Iterable[str]) -> list[Notifier]:
    """A notifier for each address.

    Raises:
        InputFaults: Addresses that cannot be understood or used, all of them.
    """
    made: list[Notifier] = []
    faults: list[Fault] = []
    asked = list(addresses)
    for address in dict.fromkeys(asked):
        try:
            made.append(_make_notifier(address, asked.count(address)))
        except _AddressError as wrong:
            faults.append(wrong.fault)
    if faults:
        raise InputFaults(faults)
    return made


def _make_notifier(address: str, count: int) -> Notifier:
    parts = _split_address(address)
    if count > 1:
        raise _AddressError(f"'{_public_part(parts, address)}' is given {count} times", "each address once")
    maker, known = _find_maker(parts, address)
    options = _parse_options(parts, (*known, "only"))
    wanted = _kind_filter(options)
    return maker(parts, options, wanted)


_Maker = Callable[[SplitResult, _Options, KindFilter | None], Notifier]


def _find_maker(parts: SplitResult, address: str) -> tuple[_Maker, tuple[str, ...]]:
    if parts.scheme not in _MAKERS:
        hint = did_you_mean(parts.scheme, _MAKERS)
        raise _AddressError(f"'{_public_part(parts, address)}' is no way out", _EXAMPLES, hint)
    return _MAKERS[parts.scheme]


def _make_zmq(parts: SplitResult, _: _Options, kind_filter: KindFilter | None) -> Notifier:
    from ipaddress import ip_address

    from bridge.outputs.notifiers.zeromq import LOOPBACK, ZmqNotifier

    host, port = _host_and_port(parts)
    host = LOOPBACK if host in ("", "localhost") else host
    try:
        ip_address(host)
    except ValueError:
        raise _AddressError(
            f"'{host}' is no address of this machine", "four numbers such as 127.0.0.1"
        ) from None
    return ZmqNotifier(host, port, kind_filter=kind_filter)


def _make_udp_line(parts: SplitResult, options: _Options, kind_filter: KindFilter | None) -> Notifier:
    from bridge.outputs.notifiers.udp_line import MAX_LINE_BYTES, UdpLineNotifier

    host, port = _host_and_port(parts)
    if not host:
        raise _AddressError(
            f"udp-line lacks the host that listens at port {port}", "udp-line://127.0.0.1:5150"
        )
    longest = options.get("longest", str(MAX_LINE_BYTES))
    low, high = LINE_BYTES_RANGE
    if not (longest.isascii() and longest.isdigit() and low <= int(longest[:6]) <= high):
        raise _AddressError(f"longest={longest} is no length of a line", f"{low} to {high} bytes")
    return UdpLineNotifier(host, port, max_bytes=int(longest), kind_filter=kind_filter)


def _make_webhook(parts: SplitResult, options: _Options, kind_filter: KindFilter | None) -> Notifier:
    from bridge.outputs.notifiers.webhook import WebhookNotifier

    try:
        host, _ = parts.hostname, parts.port
    except ValueError:
        host = None
    if not host:
        raise _AddressError(
            "a webhook's address lacks its host, or its port is no number", "https://HOST/PATH"
        )
    url = parts._replace(fragment="").geturl()
    return WebhookNotifier(url, secret=_find_secret(options), kind_filter=kind_filter)


def _make_sound(parts: SplitResult, _: _Options, kind_filter: KindFilter | None) -> Notifier:
    from bridge.outputs.notifiers.sound import SoundNotifier

    if parts.netloc or parts.path or parts.query:
        raise _AddressError("a sound has no address", "sound:")
    return SoundNotifier(kind_filter=kind_filter)


_MAKERS: dict[str, tuple[_Maker, tuple[str, ...]]] = {
    "zmq-pub": (_make_zmq, ()),
    "udp-line": (_make_udp_line, ("longest",)),
    "http": (_make_webhook, ("secret-file", "secret-env")),
    "https": (_make_webhook, ("secret-file", "secret-env")),
    "sound": (_make_sound, ()),
}


def _split_address(address: str) -> SplitResult:
    """The parts of an address; the standard library refuses some by itself."""
    try:
        return urlsplit(address)
    except ValueError as error:
        raise _AddressError(f"an address cannot be read ({error})", _EXAMPLES) from None


def _public_part(parts: SplitResult, address: str) -> str:
    """What may be said of an address: not its path, its query or a password, which may be secret."""
    host = parts.netloc.rpartition("@")[2]
    return f"{parts.scheme}://{host}" if host else address[:40]


def _host_and_port(parts: SplitResult) -> tuple[str, int]:
    try:
        host, port = parts.hostname or "", parts.port
    except ValueError:
        host, port = "", None
    if port is None or (parts.path not in ("", "/")) or parts.query:
        given = f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}"
        raise _AddressError(f"'{given}' lacks its port, or has more than host and port", _EXAMPLES)
    return host, port


def _parse_options(parts: SplitResult, known: tuple[str, ...]) -> _Options:
    options: _Options = {}
    for name, value in parse_qsl(parts.fragment, keep_blank_values=True):
        if name not in known:
            raise _AddressError(
                f"{parts.scheme} has no option {name}",
                f"one of {', '.join(known)}",
                did_you_mean(name, known),
            )
        if name in options or not value:
            raise _AddressError(f"option {name} is empty or given twice", f"#{name}=...")
        options[name] = value
    return options


def _kind_filter(options: _Options) -> KindFilter | None:
    if "only" not in options:
        return None
    words = tuple(word.strip() for word in options["only"].split(","))
    kinds = set(KINDS.values())
    known = sorted(kinds | {kind.partition("/")[0] for kind in kinds})
    for word in words:
        if word not in known:
            raise _AddressError(
                f"only={word}: there is no such kind",
                f"some of {', '.join(known)}",
                did_you_mean(word, known),
            )
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
