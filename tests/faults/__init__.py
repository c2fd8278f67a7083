"""Tests of failures: a watch or a database server is killed a hundred times."""
