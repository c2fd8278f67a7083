"""The debrief of one session: its data, tables, plots and report."""
