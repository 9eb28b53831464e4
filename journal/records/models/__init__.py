"""Frozen records of what the maker wrote, and the readers that check and make them."""
