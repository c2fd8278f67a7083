"""The documents: generated tables are up to date, shell lines can be parsed, links and paths exist."""
