"""What templates are given, and how they are set: blocks, theme, sandbox."""
