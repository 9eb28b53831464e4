"""The index at the back, and the words that narrow it."""
