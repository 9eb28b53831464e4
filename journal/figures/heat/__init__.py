"""How pots cool, when a body bonds, what melts."""
