"""The store: sessions and their findings, notices, calls, gates and traces in a database."""
