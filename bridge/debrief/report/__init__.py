"""The debrief as a document: one HTML page, and the same on paper."""
