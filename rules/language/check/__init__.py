"""Check of conditions: from text to the tree that the evaluators run, with every fault at once.

Takes: text and the scope of its names.  Gives: `check`, `check_quantity`, `AllInoperative`, and the matches of a rule with a `*`.
"""

from rules.language.check.checker import AllInoperative, check, check_quantity
from rules.language.check.matches import REST, RuleMatch, find_conflicts, find_matches

__all__ = ["REST", "AllInoperative", "RuleMatch", "check", "check_quantity", "find_conflicts", "find_matches"]
