"""Three suites that every link, every decoder and every notifier must pass."""
