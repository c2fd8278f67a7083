"""`bridge/`: commands, sessions, page, outputs, recordings, store, debrief."""
