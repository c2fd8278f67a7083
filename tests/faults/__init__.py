"""Tests of failures: a watch or a database server is killed twenty times; with `--examples-times=5`, a hundred times."""
