"""The access key of the page: reading needs none, every change needs it.

Takes: the file that stores the key between runs, if there is one.  Gives: `AccessKey`.
"""

from __future__ import annotations

import os
import secrets
from dataclasses import dataclass
from pathlib import Path

import structlog

from bridge.common.private_file import close_to_others
from rules.faults import Fault, InputFaults, Place

MIN_KEY_LENGTH = 8
_RANDOM_BYTES = 9


@dataclass(frozen=True, slots=True)
class AccessKey:
    """The key that every request for a change must carry."""

    text: str

    def matches(self, given: str) -> bool:
        """Compare in constant time, so that the answer's delay says nothing about the key."""
        return secrets.compare_digest(given.encode("utf-8", "surrogatepass"), self.text.encode())


def new_key() -> AccessKey:
    """Create a key of 72 random bits."""
    return AccessKey(secrets.token_urlsafe(_RANDOM_BYTES))


def load_or_create_key(path: Path) -> AccessKey:
    """Read the key from a file; if the file is missing, create it with a new key, readable by its owner only.

    Raises:
        InputFaults: the file cannot be read or written, or does not contain a key.
    """
    try:
        if not path.exists():
            _write(path, new_key())
        if close_to_others(path):
            structlog.get_logger("page").warning(
                "others could read the key file; now only its owner can", file=str(path)
            )
        text = path.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise InputFaults(
            [Fault(Place(str(path)), f"the key cannot be read: {error}", "a text file")]
        ) from error
    if len(text) < MIN_KEY_LENGTH or not text.isascii() or not text.isprintable() or " " in text:
        expected = f"one word of at least {MIN_KEY_LENGTH} letters, digits and signs"
        hint = "remove the file; a new key is created"
        raise InputFaults([Fault(Place(str(path), 1, 1), "not a valid key", expected, hint)])
    return AccessKey(text)


def _write(path: Path, key: AccessKey) -> None:
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
        file.write(key.text + "\n")
