"""Allergens, ingredients and the declared weight."""
