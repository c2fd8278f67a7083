"""Three gates as every screen, message and report names them, with little, more and all data."""
