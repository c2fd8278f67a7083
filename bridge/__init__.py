"""The application: supervises links, runs the core, tells the crew, answers the command line."""
