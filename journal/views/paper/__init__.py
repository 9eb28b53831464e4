"""Pages to print true to size: templates, labels, sheets for the bench."""
