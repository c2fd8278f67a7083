"""A scenario that extends another and has other papers."""

from __future__ import annotations

from pathlib import Path

import pytest

from mock_sim.scenario import AeroplaneInterface, load_scenario

KNOWN = AeroplaneInterface({}, {})


def test_papers_are_said_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the extending scenario says of a paper holds; the others are the base's."""
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
