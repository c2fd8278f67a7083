"""Tells whether the evaluator runs compiled (`python3 .ci/fresh compile`), and whether its sources have changed since.

Python imports a compiled module in place of the source beside it, also where the source is newer.

Takes: nothing.  Gives: `is_compiled`, `changed_sources`.
"""

from __future__ import annotations

from importlib.machinery import EXTENSION_SUFFIXES
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent
HINT = "python3 .ci/fresh compile, or python3 .ci/fresh interpret"


def is_compiled() -> bool:
    """Tell whether there are compiled modules."""
    return any(_compiled_modules())


def changed_sources() -> list[Path]:
    """List the sources that are newer than their compiled modules, relative to the folder of the packages."""
    pairs = ((path.with_name(path.name.partition(".")[0] + ".py"), path) for path in _compiled_modules())
    return [
        source.relative_to(TOP)
        for source, module in pairs
        if source.exists() and source.stat().st_mtime > module.stat().st_mtime
    ]


def _compiled_modules() -> list[Path]:
    """List the compiled modules of this version of Python."""
    return sorted(
        path
        for package in ("rules", "adapters")
        for path in (TOP / package).rglob(f"*{EXTENSION_SUFFIXES[0]}")
    )
