"""The pages of orders."""
