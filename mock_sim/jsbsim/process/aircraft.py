"""A stock aeroplane of the library: load it, put it at its start position, step it, and keep its pace.

Takes: a model's name, its start state, output columns and a port.  Gives: `StockAircraft`.
"""

from __future__ import annotations

import os
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from mock_sim.jsbsim.library_log import redirect_log
from mock_sim.jsbsim.process.columns import OutputColumn, output_directive

STEPS_A_FRAME = 6
"""Library steps between two rows at 20 Hz; the pacer runs once in so many."""


class StockAircraft:
    """One stock aeroplane; properties are read and written by the library's paths."""

    def __init__(
        self,
        model: str,
        stand: Mapping[str, float],
        columns: tuple[OutputColumn, ...],
        port: int,
        folder: Path,
    ) -> None:
        """Load the model and prepare its output.

        Args:
            model: The library's name of the model.
            stand: Initial conditions and start positions of the controls.
            columns: The columns to send.
            port: UDP port on this machine.
            folder: An empty folder; a model may write its own files into the present folder.

        Raises:
            ModuleNotFoundError: The library is not installed.
        """
        os.environ.setdefault("JSBSIM_DEBUG", "0")  # read when the library starts: less output, and faster
        import jsbsim

        os.chdir(folder)
        logger = redirect_log(jsbsim)
        self._fdm: Any = jsbsim.FGFDMExec(None)
        self._fdm.set_debug_level(0)
        self._fdm.load_model(model)
        logger.enabled = True
        self._known: set[str] = set()
        self._manager: Any = self._fdm.get_property_manager()
        self._disable_model_output()
        directive = folder / "output.xml"
        directive.write_bytes(output_directive(columns, port))
        # After load_model: before it, the engines' properties do not exist and would be left out without a message.
        self._fdm.set_output_directive(str(directive))
        self._stand = dict(stand)
        self._put_at_stand(first=True)

    @property
    def sim_s(self) -> float:
        """Simulated seconds since the start position."""
        return float(self._fdm.get_sim_time())

    def __getitem__(self, path: str) -> float:
        """Return the value of a property; an unknown path is an error, not 0."""
        self._check(path)
        return float(self._fdm[path])

    def __setitem__(self, path: str, value: float) -> None:
        """Write a property; an unknown path is an error, not a new property."""
        self._check(path)
        self._fdm[path] = value

    def step(self) -> None:
        """Run one step of the library, 1/120 s; every sixth sends a row."""
        self._fdm.run()

    def restart(self) -> None:
        """Put the aeroplane back to its start position, its clock to 0; the labels are sent again."""
        self._put_at_stand(first=False)

    def _put_at_stand(self, *, first: bool) -> None:
        """Write the start state; the first row must not show the brakes released."""
        for path, value in self._stand.items():
            self[path] = value
        if first:
            self._fdm.run_ic()
        else:
            self._fdm.reset_to_initial_conditions(0)
        for path, value in self._stand.items():
            if not path.startswith("ic/"):
                self[path] = value

    def _disable_model_output(self) -> None:
        """Disable a model's own log; disabling all outputs would also disable ours."""
        path = "simulation/output/log_rate_hz"
        if self._manager.hasNode(path):
            self._fdm[path] = 0

    def _check(self, path: str) -> None:
        """Refuse a path that the model does not have."""
        if path not in self._known:
            if not self._manager.hasNode(path):
                raise KeyError(path)
            self._known.add(path)


class RealTimePacer:
    """Keeps simulated time at a multiple of wall-clock time."""

    def __init__(self, speed: float) -> None:
        """Start now; `speed` is simulated seconds in a second, 0 for as fast as possible."""
        self._speed = speed
        self._began_s = time.monotonic()
        self._elapsed_s = 0.0

    def advance(self, passed_s: float) -> None:
        """Wait until the wall clock has reached the simulated time."""
        if not self._speed:
            return
        self._elapsed_s += passed_s
        ahead_s = self._began_s + self._elapsed_s / self._speed - time.monotonic()
        if ahead_s > 0.001:
            time.sleep(ahead_s)
