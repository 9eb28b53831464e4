"""Take tables of past pours into a write-up whose other text stays as it is."""
