"""Decoders: one module for each wire format, with a shared base class.

Takes: the bytes of one record.  Gives: its fields, a heading, or a reason for refusal.
"""
