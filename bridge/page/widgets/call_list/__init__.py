"""The list of calls, with buttons to enter, repeat and undo each."""
