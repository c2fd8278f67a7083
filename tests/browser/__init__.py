"""The page in a real browser and with many clients; pictures of every view."""
