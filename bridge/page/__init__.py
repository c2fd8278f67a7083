"""The crew's page: what the watch knows, on a second screen.

Takes: rigs.  Gives: pages over HTTP, kept up to date by server-sent events.
"""
