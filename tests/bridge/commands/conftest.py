"""A state of the mock flight in which every item before the push back is met.

Takes: nothing.  Gives: `ready`, a file for `holdshort judge`.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from mock_sim.run import Flight


@pytest.fixture(scope="session")
def ready() -> dict[str, Any]:
    """Return the signals and calls of a flight without slips, at the moment the push back is approved."""
    calls: list[str] = []
    for moment in Flight("departure", rate_hz=2.0):
        calls += [call.name for call in moment.calls]
        if "push_approved" in calls:
            return {"signals": moment.state, "calls": calls}
    raise AssertionError("the push back was never approved")


def write_state(folder: Path, state: dict[str, Any], **changed: object) -> Path:
    """Write a file of this state with some signals changed."""
    path = folder / "state.json"
    signals = {**state["signals"], **{name.replace("__", "."): value for name, value in changed.items()}}
    path.write_text(json.dumps(state | {"signals": signals}), encoding="utf-8")
    return path
