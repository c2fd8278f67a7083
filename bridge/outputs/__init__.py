"""Outputs: notifiers that send messages to other programs, and the voice."""
