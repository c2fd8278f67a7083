"""Aeroplanes of the JSBSim library that no map knows, judged by the few signals that they have."""
