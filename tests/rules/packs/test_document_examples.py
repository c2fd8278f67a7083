"""The examples in the documents of packs and the judge work, and their numbers are those of the code."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rules.judge.judge import Judge
from rules.judge.repeat_state import REPEAT_INTERVALS_S
from rules.packs.load_pack import load_pack
from rules.packs.quantities import MAX_TIME_S
from rules.packs.traces import MAX_TRACE_VALUES
from rules.packs.trip_sheet import load_trip_sheet

RULES = Path(__file__).parents[3] / "rules"
DOCUMENT = (RULES / "packs" / "README.md").read_text("utf-8")
EXAMPLES = re.findall(r"```yaml\n(.*?)```", DOCUMENT, re.DOTALL)


@pytest.mark.parametrize("number", [1, 2, 3, 4, 5, 6])
def test_each_example_fits_the_twin_jet(tmp_path: Path, number: int) -> None:
    """Watches with a `*`, estimates, own sentences, traces, callouts and flight times load as a part of a pack that extends the twin jet."""
    path = tmp_path / "pack.yaml"
    path.write_text("pack: {id: more, title: More, extends: twin_jet}\n" + EXAMPLES[number], encoding="utf-8")
    assert load_pack(str(path)).faults == ()


def test_the_trip_sheet_of_the_document_loads(tmp_path: Path) -> None:
    """The example of a trip sheet has all of its values."""
    path = tmp_path / "trip.yaml"
    path.write_text(EXAMPLES[7], encoding="utf-8")
    assert len(load_trip_sheet(path, load_pack("twin_jet").signals).values) == 5


def test_the_numbers_of_the_document() -> None:
    """The repeat intervals, the longest time and the size of a trace are the constants of the code."""
    first, second, last = (f"{interval_s:g}" for interval_s in REPEAT_INTERVALS_S)
    assert f"after {first}, {second} and then every {last} s" in DOCUMENT
    assert f"at most {MAX_TIME_S / 60:g} min" in DOCUMENT
    assert f"{MAX_TRACE_VALUES:,} values".replace(",", " ") in DOCUMENT


def test_the_document_lists_the_inputs_of_the_judge() -> None:
    """Each method in the table of inputs exists."""
    table = (RULES / "judge" / "README.md").read_text("utf-8").split("## Inputs")[1].split("## ")[0]
    names = re.findall(r"^\| `(\w+)\(", table, re.MULTILINE)
    assert len(names) == 8
    assert all(callable(getattr(Judge, name)) for name in names)
