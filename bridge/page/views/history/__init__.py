"""The views of stored sessions and of trends."""
