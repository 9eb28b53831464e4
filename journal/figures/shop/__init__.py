"""What a batch costs, what is cut for it, what its label says."""
