"""Rule language: from the text of a condition to its truth and the reason for it."""
