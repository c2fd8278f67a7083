"""Tests of the adapted file of the stock model."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

from mock_sim.jsbsim.embedded.model_file import MODEL_NAME, MOST_STEER_DEG, write_adapted_model

STOCK = """<fdm_config>
  <ground_reactions>
    <contact name="NOSE"><max_steer unit="DEG"> 5.00 </max_steer></contact>
    <contact name="LEFT"><max_steer unit="DEG">0</max_steer></contact>
  </ground_reactions>
  <system file="one"/><autopilot file="two"/>
  <flight_control>
    <summer name="sum"><input>ap/elevator_cmd</input><input>fcs/elevator-cmd-norm</input></summer>
  </flight_control>
  <output type="CSV"/>
</fdm_config>"""


def test_the_model_file_has_nose_wheel_and_tug_but_no_output_or_autopilot(tmp_path: Path) -> None:
    """The nose wheel turns far, the main wheels do not; the file has no output and no autopilot; a tug can pull."""
    stock, folder = tmp_path / "stock", tmp_path / MODEL_NAME
    stock.mkdir()
    (stock / f"{MODEL_NAME}.xml").write_text(STOCK)
    write_adapted_model(stock, folder)
    root = ET.parse(folder / f"{MODEL_NAME}.xml").getroot()  # noqa: S314 - our own file
    assert [float(steer.text or "") for steer in root.iter("max_steer")] == [MOST_STEER_DEG, 0.0]
    assert [root.findall(part) for part in ("output", "autopilot", "system")] == [[], [], []]
    assert [read.text for read in root.iter("input")] == ["fcs/elevator-cmd-norm"]
    assert [force.get("name") for force in root.iter("force")] == ["tug"]
    assert (stock / f"{MODEL_NAME}.xml").read_text() == STOCK
