"""What all tests share: nothing of them is kept in the user's own folder, and a random test can be repeated.

Two profiles say how random tests draw their inputs:

- `ci`, the default here and in CI: the inputs of each test follow from its own code, so that a red run is red again.
- `search`: other inputs in each run, to find what no run has found yet.

    pytest FILE                                                    each run tries the same inputs
    pytest FILE --hypothesis-profile=search                        other inputs
    pytest FILE --hypothesis-profile=search --examples-times=100   a hundred times as many of them
    pytest FILE --hypothesis-profile=search --hypothesis-seed=7    the same inputs in each run with this seed
    pytest FILE --hypothesis-show-statistics                       how many were tried

A failing random test prints its input as code, as a call of the test.  Keep each such input as a case: paste it into an
`@example(...)` above the test's `@given`, or into a test of its own, before the repair.  What is drawn prints as code that makes it
again (`tests/printed.py`), as long as a class of our own that is drawn is a dataclass, a named tuple or an enumeration.

Takes: nothing.  Gives: the environment of this process and of those that it starts, the profiles, `--examples-times`.
"""

from __future__ import annotations

import os
from collections.abc import Sequence

import pytest
from hypothesis import is_hypothesis_test, settings

from tests.printed import print_as_code

os.environ.setdefault("HOLDSHORT_DATA_DIR", "off")
os.environ.pop("HOLDSHORT_STORE", None)

# No deadline: how long an example takes says more of the machine than of the code.
settings.register_profile("ci", derandomize=True, database=None, print_blob=True, deadline=None)
settings.register_profile("search", derandomize=False, print_blob=True, deadline=None)
settings.load_profile("ci")
print_as_code()


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add `--examples-times`."""
    parser.addoption(
        "--examples-times", type=int, default=1, help="how many times as many examples each random test tries"
    )


def pytest_collection_modifyitems(config: pytest.Config, items: Sequence[pytest.Item]) -> None:
    """Let every random test try as many times its own number of examples as is asked for."""
    times = config.getoption("--examples-times")
    if times == 1:
        return
    for function in {item.obj for item in items if isinstance(item, pytest.Function)}:
        if is_hypothesis_test(function):
            # A profile does not reach a test that names its own number, and nothing public changes it later.
            own = function._hypothesis_internal_use_settings
            function._hypothesis_internal_use_settings = settings(own, max_examples=own.max_examples * times)
