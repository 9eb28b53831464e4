"""Cooling of pots, bonding of pours, and heat to melt."""
