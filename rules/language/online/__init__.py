"""Online evaluator: conditions evaluated sample by sample.

Takes: checked conditions and a `SignalState`.  Gives: `Monitors`.
"""

from rules.language.online.call_availability import CallAvailability
from rules.language.online.monitors import Monitors

__all__ = ["CallAvailability", "Monitors"]
