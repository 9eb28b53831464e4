"""Drawings of figures: places worked out, nothing set."""
