"""Tests of packs and trip sheets."""
