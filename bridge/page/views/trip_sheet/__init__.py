"""The view of the trip sheet as a form."""
