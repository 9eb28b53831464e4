"""Tests planned before pouring: the layout, what was done held against it, the chance to tell."""
