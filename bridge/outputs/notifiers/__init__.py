"""Notifiers: they send the events of sessions to other programs, and play sounds.

Takes: events.  Gives: messages over ZeroMQ, HTTP and UDP, and sounds.
"""
