"""The label of a bar: allergens, ingredients and the declared weight."""
