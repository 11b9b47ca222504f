"""`python -m antgrowth`, where the command is not on the path."""

import sys

from antgrowth.cli import main

if __name__ == "__main__":
    sys.exit(main())
