"""Variants held against each other: what is a trial, test, interval, verdict.

Pure: bars and measures in, comparisons out. ``comparing.compare`` does one
design, ``across.across`` several; ``sentences`` puts either into words.
"""
