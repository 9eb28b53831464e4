"""What every figure is made with: exact numbers, specs, results, tables."""
