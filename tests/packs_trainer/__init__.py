"""The trainer pack, flown by hand and by the mock pilot."""
