"""Adapts the stock twin jet's model file: nose-wheel steering for tight turns, and a tug's force.

The stock nose wheel turns by five degrees, which is enough on a runway but not on an apron.  The stock autopilot is
removed, since it steers the nose wheel, and so is the stock output, which would write a file.  Airframe, wing, surfaces
and engines are unchanged.

Takes: the library's folder of the model.  Gives: a folder with the adapted file.
"""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

from mock_sim.jsbsim_models import model_folder

MODEL_NAME = model_folder("twin_jet")
MOST_STEER_DEG = 78.0
TUG_LBS = "external_reactions/tug/magnitude"
_TUG = """
<external_reactions>
  <force name="tug" frame="BODY">
    <location unit="IN"><x>151.16</x><y>0</y><z>-139.54</z></location>
    <direction><x>1</x><y>0</y><z>0</z></direction>
  </force>
</external_reactions>
"""


def write_adapted_model(stock: Path, folder: Path) -> None:
    """Write the adapted model.

    Args:
        stock: the library's folder of this model.
        folder: folder for the adapted model; created here.
    """
    folder.mkdir()
    tree = ET.parse(stock / f"{MODEL_NAME}.xml")  # noqa: S314 - the installed library's own file
    root = tree.getroot()
    for steering in root.iter("max_steer"):
        if float(steering.text or 0) > 0.0:
            steering.text = str(MOST_STEER_DEG)
    for part in ("output", "autopilot", "system"):
        for found in root.findall(part):
            root.remove(found)
    for summer in root.iter("summer"):
        for read in [entry for entry in summer.findall("input") if (entry.text or "").startswith("ap/")]:
            summer.remove(read)
    root.append(ET.fromstring(_TUG))  # noqa: S314 - ours
    tree.write(folder / f"{MODEL_NAME}.xml")
