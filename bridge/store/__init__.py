"""The store: sessions, seats, findings, calls, gates, and the records of starts and approaches, in a database."""
