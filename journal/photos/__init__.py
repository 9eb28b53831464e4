"""Photos of bars: made ready for the notebook, and measured.

Nothing here knows what a write-up is: paths and numbers in, bytes and numbers out.
"""
