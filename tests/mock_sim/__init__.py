"""Tests of the aeroplane and the crew that stand in for a simulator."""
