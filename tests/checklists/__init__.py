"""Lines of the shipped checklists: what each reads, and that breaking any of it leaves the line unmet."""
