"""The web page for the crew and the instructor, on any screen in the network.

Takes: devices.  Gives: pages over HTTP, kept up to date by server-sent events.
"""
