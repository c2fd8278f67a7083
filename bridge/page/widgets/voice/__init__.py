"""The voice in the browser."""
