"""Failures to survive: a watch or a database server killed a hundred times."""
