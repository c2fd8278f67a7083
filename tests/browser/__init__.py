"""Tests with a real browser, and with many clients."""
