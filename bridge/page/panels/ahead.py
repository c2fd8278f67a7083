"""What stands between the crew and the next phase.

Takes: a rig.  Gives: what `ahead.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.glance import take_glance
from bridge.rig import Rig


def ahead(rig: Rig) -> Mapping[str, object]:
    """The gates that are cued, or else the next, with their open items."""
    glance = take_glance(rig.session.core)
    return {"gates": glance.gates, "seats": rig.pack.seats, "sim_s": glance.sim_s}
