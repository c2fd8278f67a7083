"""The voice: composes, orders and speaks utterances."""
