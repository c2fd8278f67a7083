"""Prints the sentences that a crew can hear, or writes them into the data files.

    python -m tests.sentences [--write] [PACK...]

Takes: names of shipped packs, all by default.  Gives: lines, or the files `PACK.yaml` beside this one.
"""

from __future__ import annotations

import sys

from tests.sentences.collecting import PACKS, collect, write


def main(arguments: list[str]) -> None:
    """Print or write the sentences of the named packs."""
    for name in [word for word in arguments if word in PACKS] or PACKS:
        sentences = collect(name)
        if "--write" in arguments:
            write(name, sentences)
            continue
        for entries in sentences.values():
            for rule, texts in entries.items():
                for one in texts:
                    sys.stdout.write(f"{rule}\n    {one.text}\n    {one.speech}\n")


if __name__ == "__main__":
    main(sys.argv[1:])
