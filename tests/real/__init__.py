"""Flights of the JSBSim library, watched."""
