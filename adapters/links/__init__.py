"""Links: one module for each transport that datagrams arrive by.

Takes: an address and limits.  Gives: datagrams with their time of arrival, status and counters.
"""
