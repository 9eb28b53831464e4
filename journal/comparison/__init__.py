"""Variants compared: their trials, tests, intervals and verdicts.

Pure: bars and measures in, comparisons out. ``comparing.compare`` does one
design, ``across.across`` several; ``sentences`` puts either into words.
"""
