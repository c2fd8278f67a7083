"""One module a command (those that speak to a running watch share one)."""
