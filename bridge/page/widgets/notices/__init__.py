"""Recent notices, and the live region for screen readers."""
