"""The key of a page: watching needs none, changing something needs it.

Takes: the file in which it is kept from one run to the next, or nothing.  Gives: `Key`.
"""

from __future__ import annotations

import os
import secrets
from dataclasses import dataclass
from pathlib import Path

from rules.faults import Fault, InputFaults, Place

MIN_KEY_LENGTH = 8
_RANDOM_BYTES = 9


@dataclass(frozen=True, slots=True)
class AccessKey:
    """One key for every change."""

    text: str

    def matches(self, given: str) -> bool:
        """Whether this is the key; takes the same time whatever was given."""
        return secrets.compare_digest(given.encode("utf-8", "surrogatepass"), self.text.encode())


def new_key() -> AccessKey:
    """One that nobody can guess: 72 random bits."""
    return AccessKey(secrets.token_urlsafe(_RANDOM_BYTES))


def load_or_create_key(path: Path) -> AccessKey:
    """The key in a file; one that is missing is written, readable by its owner alone.

    Raises:
        InputFaults: the file cannot be read or written, or what stands in it is no key.
    """
    try:
        if not path.exists():
            _write(path, new_key())
        text = path.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise InputFaults(
            [Fault(Place(str(path)), f"the key cannot be read: {error}", "a text file")]
        ) from error
    if len(text) < MIN_KEY_LENGTH or not text.isascii() or not text.isprintable() or " " in text:
        expected = f"one word of at least {MIN_KEY_LENGTH} letters, digits and marks"
        raise InputFaults(
            [Fault(Place(str(path), 1, 1), "this is no key", expected, "remove the file; a key is made")]
        )
    return AccessKey(text)


def _write(path: Path, key: AccessKey) -> None:
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
        file.write(key.text + "\n")
