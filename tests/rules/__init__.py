"""`rules/`: signals, language, packs, arithmetic, judge."""
