"""What takes two files to check: names that must exist, pieces that must fit."""
