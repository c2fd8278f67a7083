"""Provides the number of rounds of the tests that kill.

Takes: `--examples-times`.  Gives: the fixture `rounds`.
"""

from __future__ import annotations

import pytest

from tests.faults.kill_rounds import ROUNDS


@pytest.fixture
def rounds(pytestconfig: pytest.Config) -> int:
    """Rounds in which a process is killed."""
    times: int = pytestconfig.getoption("--examples-times")
    return ROUNDS * times
