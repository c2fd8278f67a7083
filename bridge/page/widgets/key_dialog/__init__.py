"""The dialog that asks for the access key."""
