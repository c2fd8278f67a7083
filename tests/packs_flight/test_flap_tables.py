"""Tables of the pack by flap setting have columns at settings where the flap lever rests."""

from __future__ import annotations

import pytest
from ruamel.yaml import YAML

from mock_sim.twin_jet.controls import PART
from rules.packs.load_pack import SHIPPED_DIR

SETTINGS = set(PART.detents["controls.flap.lever"])


def columns_by_flap() -> dict[str, tuple[float, ...]]:
    """Columns of each table that a figure reads with a flap setting of the sheet."""
    files = [
        YAML(typ="safe").load(path.read_text("utf-8")) for path in (SHIPPED_DIR / "twin_jet").glob("*.yaml")
    ]
    tables = {name: table for file in files for name, table in file.get("tables", {}).items()}
    figures = [figure for file in files for figure in file.get("figures", {}).values()]
    return {
        name: tuple(tables[name]["columns"])
        for figure in figures
        for name in [figure["uses"].removeprefix("table.")]
        if name in tables and str(figure["with"].get("y", "")).endswith("_flap")
    }


BY_FLAP = columns_by_flap()


def test_the_tables_are_found() -> None:
    """Speeds and distances depend on the flaps."""
    assert {"v1", "vr", "landing_stall", "landing_distance"} <= set(BY_FLAP)


@pytest.mark.parametrize("name", BY_FLAP)
def test_columns_are_settings_of_the_lever(name: str) -> None:
    """A column between two settings would be data of another aeroplane."""
    assert set(BY_FLAP[name]) <= SETTINGS
