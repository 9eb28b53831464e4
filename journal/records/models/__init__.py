"""What the maker wrote, as frozen records: fields checked, with the places of their text."""
