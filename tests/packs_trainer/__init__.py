"""The pack `trainer`, flown by a script and by the mock pilot."""
