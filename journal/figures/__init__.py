"""Pure figures and what takes them out of records."""
