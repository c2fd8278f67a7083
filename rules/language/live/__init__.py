"""The live evaluator: conditions watched sample by sample.

Takes: checked conditions and a `State`.  Gives: `Monitors`.
"""

from rules.language.live.monitors import Monitors

__all__ = ["Monitors"]
