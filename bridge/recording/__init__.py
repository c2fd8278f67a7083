"""Recordings: the inputs and the events of a session in one MCAP file, with playback and replay."""
