"""What each panel of a page shows, as plain values for its template.

Takes: a rig.  Gives: a mapping per panel.
"""
