"""Tests of what the project is made of: locked versions, hashes, licences, the bill of materials."""
