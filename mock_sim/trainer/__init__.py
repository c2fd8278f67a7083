"""The invented Halyard 12, a single-engine piston trainer for one pilot, whose systems behave like systems."""

from mock_sim.trainer.halyard_12 import Trainer

__all__ = ["Trainer"]
