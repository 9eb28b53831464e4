"""The figures: pure functions, and the modules that derive them from the records."""
