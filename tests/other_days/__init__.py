"""Days on which a correct crew does something other than usual, and crews who do it wrong."""
