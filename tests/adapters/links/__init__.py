"""Tests of the links: framing, TCP, UDP, ZeroMQ."""
