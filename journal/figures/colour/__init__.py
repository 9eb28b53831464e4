"""Colour spaces, and how far a colour creeps."""
