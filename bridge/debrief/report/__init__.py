"""The debrief's report: one HTML page and a PDF."""
