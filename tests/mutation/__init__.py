"""Mutation run by command: changes of the source that the tests of the changed module must notice."""
