"""One session: its inputs, its events, and what screens derive from them."""
