"""The JSBSim library in this process: one aeroplane, its properties by path, and time steps.

The library ships no type hints; all untyped code is in this module.

Takes: a model's file, initial conditions.  Gives: `JsbsimModel`.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Protocol

from mock_sim.jsbsim.embedded.model_file import MODEL_NAME, write_adapted_model
from mock_sim.jsbsim.installation import INSTALL_HINT
from mock_sim.jsbsim.library_log import redirect_log
from rules.faults import HoldshortError

STEPS_A_SECOND = 120


class JsbsimMissingError(HoldshortError):
    """The library is not installed; the message gives the command that installs it."""


class FlightModel(Protocol):
    """A flight model: properties by path, and steps of 1/120 s."""

    def __getitem__(self, path: str) -> float:
        """Return the value of a property."""

    def __setitem__(self, path: str, value: float) -> None:
        """Write a property."""

    def run(self, steps: int) -> None:
        """Run some steps."""


class _Node(Protocol):
    """One property of the library."""

    def get_double_value(self) -> float:
        """Return its value."""

    def set_double_value(self, value: float) -> bool:
        """Write its value."""


class JsbsimModel:
    """The library with a loaded model in its initial conditions."""

    def __init__(self, start: Mapping[str, float]) -> None:
        """Load the model.

        Args:
            start: initial conditions (`ic/...`) and other properties, by path.

        Raises:
            JsbsimMissingError: the library is not installed.
            KeyError: the model does not have a property.
        """
        os.environ.setdefault("JSBSIM_DEBUG", "0")  # read when the library starts
        try:
            import jsbsim
        except ModuleNotFoundError as missing:
            raise JsbsimMissingError(f"the JSBSim library is absent; {INSTALL_HINT}") from missing
        logger = redirect_log(jsbsim)
        self._fdm = jsbsim.FGFDMExec(None)
        self._fdm.set_debug_level(0)
        with tempfile.TemporaryDirectory() as folder:
            stock = Path(jsbsim.get_default_root_dir())
            write_adapted_model(stock / "aircraft" / MODEL_NAME, Path(folder) / MODEL_NAME)
            self._fdm.load_model_with_paths(MODEL_NAME, folder, str(stock / "engine"), str(stock / "systems"))
        logger.enabled = True
        self._fdm.disable_output()
        self._manager: Any = self._fdm.get_property_manager()
        self._nodes: dict[str, _Node] = {}
        for path, value in start.items():
            self[path] = value
        self._fdm.run_ic()
        for path, value in start.items():
            if not path.startswith("ic/"):
                self[path] = value

    def __getitem__(self, path: str) -> float:
        """Return the value of a property; an unknown path is an error, not 0."""
        return float(self._node(path).get_double_value())

    def __setitem__(self, path: str, value: float) -> None:
        """Write a property; an unknown path is an error, not a new property."""
        self._node(path).set_double_value(value)

    def add_property(self, path: str, value: float) -> None:
        """Create a property that the library reads and does not create by itself.

        Args:
            path: its path.
            value: its first value.
        """
        self._fdm[path] = value

    def run(self, steps: int) -> None:
        """Run some steps of 1/120 s."""
        for _ in range(steps):
            self._fdm.run()

    def _node(self, path: str) -> _Node:
        """Return the property of a path, looked up once."""
        if path not in self._nodes:
            if not self._manager.hasNode(path):
                raise KeyError(path)
            self._nodes[path] = self._manager.get_node(path)
        return self._nodes[path]
