"""Orders, rounds and days planned by the clock."""
