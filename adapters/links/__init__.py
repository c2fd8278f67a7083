"""Links: ways by which datagrams reach us, one a file."""
