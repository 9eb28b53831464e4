"""Text to number and number to text: the only place that knows units.

``units`` holds the exact factors, ``read`` turns what was written into the
stored unit of its kind (g, mL, degC, mm, min, shares from 0 to 1), ``show``
rounds once and turns a number into text for people.
"""
