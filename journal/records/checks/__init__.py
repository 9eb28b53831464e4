"""Checks across records and files: names that must exist, things that must fit each other."""
