"""``python -m journal`` does what ``journal`` does."""

import sys

from journal.cli import main

if __name__ == "__main__":
    sys.exit(main())
