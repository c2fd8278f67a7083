"""Rejudges a recording and compares the events with the recorded ones.

Takes: a recording, a pack.  Gives: `rejudge` and `compare`.
"""
