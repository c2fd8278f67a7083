"""Privacy: export, erasure and retention of the data of persons."""
