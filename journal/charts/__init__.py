"""Charts and drawings as computed positions; templates turn them into SVG."""
