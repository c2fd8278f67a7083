"""A mock simulator outside Holdshort: aeroplanes, a crew that makes slips, and senders in every wire format."""
