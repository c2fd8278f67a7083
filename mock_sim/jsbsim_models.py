"""Folders of the JSBSim library's models, from the one file that names them.

Takes: `jsbsim_models.yaml`.  Gives: `model_folder`.
"""

from __future__ import annotations

from pathlib import Path

from ruamel.yaml import YAML

_FILE = Path(__file__).with_suffix(".yaml")


def model_folder(kind: str) -> str:
    """Return the library's folder of a model.

    Args:
        kind: `twin_jet` or `piston`.

    Raises:
        KeyError: no model of that kind.
    """
    return str(YAML(typ="safe").load(_FILE)[kind])
