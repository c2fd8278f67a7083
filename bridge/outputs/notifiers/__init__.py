"""The ways out: what the core says goes to other programs, screens and ears, side by side.

Takes: entries.  Gives: messages over ZeroMQ, HTTP and UDP, and sounds.
"""
