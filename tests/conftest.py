"""Shared test setup: no test writes to the user's folders, and random tests can be repeated.

Two Hypothesis profiles choose the inputs of random tests:

- `ci`, the default here and in CI: the inputs of each test follow from its own code, so that a failure repeats.
- `search`: other inputs in each run, to find new failures.

    pytest FILE                                                    the same inputs in each run
    pytest FILE --hypothesis-profile=search                        other inputs
    pytest FILE --hypothesis-profile=search --examples-times=100   a hundred times as many
    pytest FILE --hypothesis-profile=search --hypothesis-seed=7    the same inputs in each run with this seed
    pytest FILE --hypothesis-show-statistics                       the number of inputs tried

A failing random test prints its input as code, as a call of the test.  Add each such input as a case before the repair:
paste it into an `@example(...)` above the test's `@given`, or into a test of its own.  Values print as code that
creates them (`tests/printed.py`), if every class of our own in them is a dataclass, a named tuple or an enumeration.

The files of `long_tests.txt` run first, so that at the end no process runs alone: pass `--no-loadscope-reorder` with `-n`.

Takes: nothing.  Gives: the environment of this process and its child processes, the profiles, `--examples-times`,
`--quick`, the order of the files.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.requirements import exit_without_libraries

exit_without_libraries()  # before the imports that would fail without a hint

from hypothesis import is_hypothesis_test, settings  # noqa: E402

from rules.compiled import HINT, changed_sources  # noqa: E402
from tests.printed import print_as_code  # noqa: E402
from tests.quick_subset import file_ranks, long_tests  # noqa: E402

os.environ.setdefault("HOLDSHORT_DATA_DIR", "off")
os.environ.pop("HOLDSHORT_STORE", None)

# No deadline: the time of an example depends more on the machine than on the code.
settings.register_profile("ci", derandomize=True, database=None, print_blob=True, deadline=None)
settings.register_profile("search", derandomize=False, print_blob=True, deadline=None)
settings.load_profile("ci")
print_as_code()


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add `--examples-times` and `--quick`."""
    parser.addoption(
        "--examples-times", type=int, default=1, help="how many times as many examples each random test tries"
    )
    parser.addoption(
        "--quick", action="store_true", help="only the quick subset: without the tests of long_tests.txt"
    )


def pytest_configure() -> None:
    """Refuse to test a compiled evaluator that is older than its sources."""
    changed = changed_sources()
    if changed:
        raise pytest.UsageError(f"the compiled evaluator is older than {', '.join(changed)}\n  hint: {HINT}")


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave out the long files with `--quick`; they are not even imported."""
    return True if config.getoption("--quick") and collection_path in long_tests()[0] else None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Put the files with long tests first, and apply `--quick` and `--examples-times`."""
    items.sort(key=_length_rank)
    if config.getoption("--quick"):
        long = [item for item in items if (item.path, item.name.partition("[")[0]) in long_tests()[1]]
        items[:] = [item for item in items if item not in long]
        config.hook.pytest_deselected(items=long)
    times = config.getoption("--examples-times")
    if times == 1:
        return
    for function in {item.obj for item in items if isinstance(item, pytest.Function)}:
        if is_hypothesis_test(function):
            # A profile does not change a test with its own number of examples, and there is no public way to do so.
            own = function._hypothesis_internal_use_settings
            function._hypothesis_internal_use_settings = settings(own, max_examples=own.max_examples * times)


@pytest.fixture(scope="session", autouse=True)
def _share_flights(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Keep the recorded flights of this run where all its processes find them."""
    folder = tmp_path_factory.getbasetemp()
    # With `-n` each process has a folder of its own in that of the run.
    os.environ["FLIGHTS_OF_THIS_RUN"] = str(folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder)


def _length_rank(item: pytest.Item) -> int:
    """Give the place of the test's file in the order; tests with the same place keep their order."""
    return file_ranks().get(item.path, len(file_ranks()))
