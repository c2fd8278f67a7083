"""The Halyard 220 with its own systems and the flight mechanics of JSBSim.

Takes: the same controls as the Halyard 220.  Gives: the same signals.
"""

from mock_sim.jsbsim.embedded.halyard_220 import JsbsimHalyard220

__all__ = ["JsbsimHalyard220"]
