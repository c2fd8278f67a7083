"""Explanation of a condition's truth: a tree of reasons that becomes one sentence.

Takes: a checked condition, a view of the present values and the names of signals.  Gives: `explain`.
"""

from rules.language.explain.explainer import explain
from rules.language.explain.signal_names import LABELS, SignalLabels, SignalNames

__all__ = ["LABELS", "SignalLabels", "SignalNames", "explain"]
