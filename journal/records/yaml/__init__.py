"""YAML text to a tree in which every value keeps its place."""
