"""One suite that every link, one that every decoder and one that every way out must pass."""
