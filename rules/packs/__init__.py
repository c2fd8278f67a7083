"""Packs: phases, gates, flows, checklists and watches, from YAML to what the judge runs."""
