"""The pages of things on the shelf, and of pots."""
