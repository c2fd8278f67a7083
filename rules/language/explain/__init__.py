"""Why a condition is what it is: a tree of reasons that turns into one sentence.

Takes: a checked condition, a view of the present and what signals are called.  Gives: `explain`.
"""

from rules.language.explain.explainer import explain
from rules.language.explain.signal_names import LABELS, SignalLabels, SignalNames

__all__ = ["LABELS", "SignalLabels", "SignalNames", "explain"]
