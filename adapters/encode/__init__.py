"""Encoders: the inverse of each decoder, for the mock aeroplane and the tests."""
