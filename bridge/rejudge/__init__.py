"""Judging a recording afresh, and saying what is other than it was.

Takes: a recording, a pack.  Gives: `rejudge` and `compare`.
"""
