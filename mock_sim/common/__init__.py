"""Parts that both mock aeroplanes share: panel, systems, motion, noise and the world."""
