"""The map: which raw field is which signal, in which unit, with which words."""
