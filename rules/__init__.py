"""The pure core: signals, the language, packs, arithmetic, judging."""
