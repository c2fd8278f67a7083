"""A simulator that stands outside: an aeroplane, a crew with slips, and senders in every wire format."""
