"""Read what the maker wrote: parsed with positions, checked, and held in frozen records."""
