"""``python -m derate``: the command line."""

import sys

from derate.cli import main

if __name__ == "__main__":
    sys.exit(main())
