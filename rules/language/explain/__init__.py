"""Why a condition is what it is: a tree of reasons that turns into one sentence.

Takes: a checked condition and a view of the present.  Gives: `explain`.
"""

from rules.language.explain.whole import explain

__all__ = ["explain"]
