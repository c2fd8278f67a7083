"""Names that others read are those of `pinned_names.yaml`, independent of Python's names."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import TypeAdapter

from rules.source import read_source
from tests.pinned import GROUPS, SignalNames

PINNED: dict[str, SignalNames] = TypeAdapter(dict[str, SignalNames]).validate_python(
    read_source(Path(__file__).with_name("pinned_names.yaml")).data
)
WHY = (
    "Others read these names: in recordings, messages, files, tables or on the command line. Where one is to change, change it "
    "in tests/pinned_names.yaml too, and run `python -m tests.documents`; where only Python's name changed, give it the old name outside."
)


def test_every_group_is_pinned() -> None:
    """The list and the code have the same groups."""
    assert list(PINNED) == list(GROUPS), WHY


@pytest.mark.parametrize("group", GROUPS)
def test_names_that_others_read_stay(group: str) -> None:
    """No name is added, removed, renamed or moved."""
    now, pinned = GROUPS[group](), PINNED[group]
    assert list(now) == list(pinned), WHY
    wrong = {
        what: {"gone": sorted({*pinned[what]} - {*names}), "new": sorted({*names} - {*pinned[what]})}
        for what, names in now.items()
        if names != pinned[what]
    }
    assert not wrong, WHY
