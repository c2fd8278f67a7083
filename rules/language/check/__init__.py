"""Check of conditions: from text to the tree that the evaluators run, with every fault at once.

Takes: text and the scope of its names.  Gives: `check`, and `AllInoperative`.
"""

from rules.language.check.checker import AllInoperative, check

__all__ = ["AllInoperative", "check"]
