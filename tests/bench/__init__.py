"""Speed beside peers: `python -m tests.bench` prints the table."""
