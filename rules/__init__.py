"""Pure core of the project: signals, rule language, packs, arithmetic and judging."""
