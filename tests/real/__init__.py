"""Tests on flights of the JSBSim library."""
