"""What is printed true to size: templates, labels, sheets for the bench."""
