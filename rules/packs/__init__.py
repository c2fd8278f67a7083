"""Packs: phases, gates, flows, checklists and watches, from YAML files to what the judge runs.

Public: `load_pack`, `model`, `condition_facts`, `trip_sheet`, `trip_values`.
"""
