"""The debrief: one session gathered, drawn and written so that it can be taught from."""
