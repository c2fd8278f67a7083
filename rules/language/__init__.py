"""Rule language: from the text of a condition to its truth and the reason for it.

Public: nothing; `rules.packs.condition_facts` answers what others ask about a condition.
"""
