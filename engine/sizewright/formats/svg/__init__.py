"""SVG: reading and writing."""
