"""Which conditions went with which failure, over all designs.

``conditions`` tests and counts, pure; ``derive`` takes pots and their conditions out of records.
"""
