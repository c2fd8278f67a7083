"""Drawing of the debrief's plots."""
