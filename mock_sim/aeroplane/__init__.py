"""x."""

from mock_sim.aeroplane.halyard import Aeroplane
from mock_sim.aeroplane.panel import ControlError

__all__ = ["Aeroplane", "ControlError"]
