"""Online evaluator: conditions evaluated sample by sample.

Takes: checked conditions and a `SignalState`.  Gives: `Monitors`.
"""

from rules.language.online.monitors import Monitors

__all__ = ["Monitors"]
