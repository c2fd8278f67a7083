"""Tests of the decoders: text formats, binary formats, published vectors."""
