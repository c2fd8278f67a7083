"""Changes of the source that the tests must notice: `python -m tests.mutation [FILE|FOLDER ...]`.

Without words it draws 120 changes of `rules` and `adapters`; `--count`, `--seed` and `--workers` say how many, which, and how
many at once.  A change that no test notices is printed as a difference of lines; `accepted.yaml` lists those that cannot be
noticed, with the reason.

Takes: words of the command line.  Gives: a table; the exit code is 1 where a change was noticed by none and is not accepted.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import SimpleQueue

from pydantic import TypeAdapter

from rules.source import read_source
from tests.documents.markdown import table
from tests.mutation.changes import TOP, SourceChange, sample
from tests.mutation.trials import Copy, Noticed, Outcome

FOLDERS = ("rules", "adapters")


def accepted() -> dict[str, str]:
    """Changes that no test can notice, each with the reason."""
    return TypeAdapter(dict[str, str]).validate_python(
        read_source(Path(__file__).with_name("accepted.yaml")).data
    )


def files_of(words: Sequence[str]) -> list[Path]:
    """Source files in these folders, or the files themselves.

    Raises:
        SystemExit: A word names neither.
    """
    found: list[Path] = []
    for word in words or FOLDERS:
        path = TOP / word
        if not path.exists():
            sys.exit(
                f"{word}: no such file or folder\n  hint: give it as it is seen from the top of the repository"
            )
        found += sorted(path.rglob("*.py")) if path.is_dir() else [path]
    return [path for path in found if path.name != "__init__.py"]


def outcomes(changes: Iterable[SourceChange], workers: int) -> Iterator[Outcome]:
    """Try changes, several at once, each in a copy of its own."""
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(workers) as pool:
        free: SimpleQueue[Copy] = SimpleQueue()
        for number in range(workers):
            free.put(Copy(Path(folder) / str(number)))

        def attempt(change: SourceChange) -> Outcome:
            copy = free.get()
            try:
                return copy.try_change(change)
            finally:
                free.put(copy)

        yield from pool.map(attempt, changes)


def main(arguments: Sequence[str]) -> int:
    """Try the changes and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("--count", type=int, default=120, help="number of changes")
    parser.add_argument("--seed", type=int, default=1, help="which changes are drawn")
    parser.add_argument("--workers", type=int, default=2, help="how many are tried at once")
    parser.add_argument("path", nargs="*", help="files and folders; default: " + " ".join(FOLDERS))
    given, began_s, counts = parser.parse_args(arguments), time.monotonic(), Counter[Noticed]()
    known, alive = accepted(), list[Outcome]()
    for outcome in outcomes(sample(files_of(given.path), given.count, given.seed), given.workers):
        counts[outcome.noticed] += 1
        sys.stdout.write(f"{outcome.change.file}:{outcome.change.line}: noticed {outcome.noticed}\n")
        if outcome.noticed is Noticed.BY_NONE:
            reason = known.get(outcome.change.key)
            sys.stdout.write(f"{outcome.change.diff}\n{f'accepted: {reason}' if reason else 'NOT NOTICED'}\n")
            alive += [] if reason else [outcome]
        sys.stdout.flush()
    sys.stdout.write("\n" + table(("noticed", "changes"), [(str(one), str(counts[one])) for one in Noticed]))
    sys.stdout.write(f"\nnot noticed and not accepted: {len(alive)}; {time.monotonic() - began_s:.0f} s\n")
    return 1 if alive else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
