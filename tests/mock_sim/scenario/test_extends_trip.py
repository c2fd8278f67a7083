"""Tests of a scenario that extends another with other trip values."""

from __future__ import annotations

from pathlib import Path

import pytest

from mock_sim.scenario import AeroplaneInterface, load_scenario

KNOWN = AeroplaneInterface({}, {})


def test_trip_values_are_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The values of the extending scenario replace those of the base; the others are the base's."""
    monkeypatch.setattr("mock_sim.scenario.load.SCENARIOS", tmp_path)
    base = (
        "title: Base\ntrip: {flap: 5, fuel: 8200}\nends: [{done: captain.a}]\nseats: {captain: [{key: a}]}\n"
    )
    more = "extends: base\ntitle: More\ntrip: {fuel: 8700}\nends: [{done: captain.a}]\n"
    for name, text in (("base", base), ("more", more)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "scenario.yaml").write_text(text, encoding="utf-8")
    assert load_scenario("more", KNOWN).trip == {"flap": 5.0, "fuel": 8700.0}
    assert load_scenario("base", KNOWN).trip == {"flap": 5.0, "fuel": 8200.0}
