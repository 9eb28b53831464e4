"""Cost and price of a batch, the pieces cut for it, its weight and label."""
