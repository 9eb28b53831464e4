"""Parse YAML, CSV and text in columns to trees in which every value keeps its position."""
