"""Runs one target under Atheris (libFuzzer) in a process of its own, which libFuzzer ends.

`python -m tests.fuzz.engine TARGET FOLDER [options of libFuzzer]`, started by `python -m tests.fuzz`.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

OURS = ["adapters", "rules", "bridge"]


def main() -> None:
    """Import the target with coverage of our own packages, and hand over to libFuzzer."""
    with atheris.instrument_imports(include=OURS):
        from tests.fuzz.all_targets import TARGETS
    target = TARGETS[sys.argv[1]]
    with tempfile.TemporaryDirectory() as folder:
        run = target.build(Path(folder))
        atheris.Setup([sys.argv[0], *sys.argv[2:]], run)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
