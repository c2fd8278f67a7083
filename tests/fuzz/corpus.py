"""Saved inputs of each target: the corpus, and the cases that once were defects.

A file has one input in each line, as Base64: a few hundred small files would hide the rest of the tests, and libFuzzer
wants folders anyway.

Takes: the name of a target.  Gives: its inputs; a folder of them for the engine.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable
from pathlib import Path

CORPUS = Path(__file__).with_name("corpus")
CASES = Path(__file__).with_name("cases")
MAX_SAVED_BYTES = 4_096
"""Bytes of an input that is saved in the corpus; larger ones find little more and fill the repository."""
MAX_SAVED_INPUTS = 150


def read_inputs(folder: Path, target: str) -> list[bytes]:
    """Give the inputs of a target; empty where it has none."""
    path = folder / f"{target}.txt"
    if not path.exists():
        return []
    return [base64.b64decode(line, validate=True) for line in path.read_text(encoding="ascii").splitlines()]


def write_inputs(folder: Path, target: str, inputs: Iterable[bytes]) -> None:
    """Write the inputs of a target, each once, the shortest first."""
    ordered = sorted(set(inputs), key=lambda data: (len(data), data))
    folder.mkdir(exist_ok=True)
    lines = "".join(f"{base64.b64encode(data).decode()}\n" for data in ordered)
    (folder / f"{target}.txt").write_text(lines, encoding="ascii")


def save_corpus(target: str, inputs: Iterable[bytes]) -> None:
    """Write the smaller inputs of a run as the corpus of its target."""
    saved = [data for data in sorted(set(inputs), key=len) if len(data) <= MAX_SAVED_BYTES]
    write_inputs(CORPUS, target, saved[:MAX_SAVED_INPUTS])


def unpack(inputs: Iterable[bytes], folder: Path) -> Path:
    """Write each input to a file of its own, as the engine reads them."""
    folder.mkdir(parents=True, exist_ok=True)
    for data in inputs:
        (folder / hashlib.sha256(data).hexdigest()[:24]).write_bytes(data)
    return folder


def read_folder(folder: Path, pattern: str = "*") -> list[bytes]:
    """Give the contents of the files that the engine wrote."""
    return [path.read_bytes() for path in sorted(folder.glob(pattern)) if path.is_file()]
