"""The live evaluator: conditions watched sample by sample.

Takes: checked conditions and a `State`.  Gives: `Monitors`.
"""

from rules.language.online.monitors import Monitors

__all__ = ["Monitors"]
