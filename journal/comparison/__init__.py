"""Variants compared: their trials, tests, intervals and verdicts.

Pure: bars and measures in, comparisons out. ``comparing.compare_variants`` does one
design, ``across.compare_across_designs`` several; ``sentences`` puts either into words.
"""
