"""Tells whether the evaluator runs compiled (`python3 .ci/fresh compile`), and whether its sources have changed since.

Python imports a compiled module in place of the source beside it, whatever the source says by now.

Takes: what the compilation noted of its sources.  Gives: `is_compiled`, `changed_sources`, `note_sources`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from importlib.machinery import EXTENSION_SUFFIXES
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent
NOTE = TOP / "rules" / "compiled_sources.json"
"""Digest of each source at the time of its compilation, by its path."""
HINT = "python3 .ci/fresh compile, or python3 .ci/fresh interpret"


def is_compiled() -> bool:
    """Tell whether there are compiled modules for this version of Python."""
    return any((TOP / "rules").glob(f"*{EXTENSION_SUFFIXES[0]}"))


def changed_sources() -> list[str]:
    """List the sources that are no longer those that were compiled, relative to the folder of the packages."""
    if not is_compiled():
        return []
    try:
        noted: dict[str, str] = json.loads(NOTE.read_text())
    except (OSError, ValueError):
        return [NOTE.name]
    return [path for path, digest in noted.items() if _digest(path) != digest]


def note_sources(paths: Iterable[str]) -> None:
    """Note the sources that were compiled, relative to the folder of the packages."""
    NOTE.write_text(json.dumps({path: _digest(path) for path in paths}, indent=1))


def _digest(path: str) -> str:
    """Digest of a source; '' where there is none."""
    try:
        return hashlib.sha256((TOP / path).read_bytes()).hexdigest()
    except OSError:
        return ""
