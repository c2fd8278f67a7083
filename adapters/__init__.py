"""Connection to a simulator: links receive datagrams, decoders read them, a map converts their fields to signals.

Takes: bytes from a simulator.  Gives: frames of signals, and the health of the reception.
"""
