"""Colour spaces, and the growth of bleeds."""
