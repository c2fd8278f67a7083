"""Check of conditions: from text to the tree that the evaluators run, with every fault at once.

Takes: text and the scope of its names.  Gives: `check`, `AllInoperative`, and the matches of a rule with a `*`.
"""

from rules.language.check.checker import AllInoperative, check
from rules.language.check.matches import REST, RuleMatch, find_conflicts, find_matches

__all__ = ["REST", "AllInoperative", "RuleMatch", "check", "find_conflicts", "find_matches"]
