"""Pages that list: front, weeks, failures, methods, cautions."""
