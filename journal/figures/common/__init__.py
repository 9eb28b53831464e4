"""Tools of all figures: exact numbers, specs, results, tables."""
