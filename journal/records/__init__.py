"""What the maker wrote: read with its positions, checked, frozen."""
