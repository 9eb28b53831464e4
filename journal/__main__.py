"""``python -m journal`` does what ``journal`` does."""

import sys

from journal.command_line import main

if __name__ == "__main__":
    sys.exit(main())
