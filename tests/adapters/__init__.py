"""`adapters/`: links, decoders, map files, sequence of records."""
