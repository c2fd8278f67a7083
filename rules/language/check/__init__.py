"""Check: from the text of a condition to the tree that the evaluators run, with every fault at once.

Takes: text and the scope of its names.  Gives: `check`, and what can be asked of a checked tree.
"""

from rules.language.check.checker import AllInoperative, check

__all__ = ["AllInoperative", "check"]
