"""Packs: phases, gates, flows, checklists and watches, from YAML files to what the judge runs."""
