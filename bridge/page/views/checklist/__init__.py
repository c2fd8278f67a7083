"""The view of the checklist that is being read."""
