"""The plots of a debrief, as SVG that stands in the page."""
