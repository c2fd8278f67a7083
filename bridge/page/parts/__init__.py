"""What each part of a page shows, made once for each page that is asked for.

Takes: a rig and the words of an address.  Gives: a mapping per part.
"""
