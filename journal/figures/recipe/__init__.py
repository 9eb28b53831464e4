"""Masses, volumes, doses and leftovers of a recipe."""
