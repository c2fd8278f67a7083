"""Encoders: the inverse of each decoder, for the mock simulator and the tests.

Takes: a time, a sequence number and values by name.  Gives: datagrams.
"""
