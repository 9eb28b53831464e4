"""What the maker wrote, as frozen records: fields checked, places kept."""
