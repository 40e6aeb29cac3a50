"""`python -m cracktie`."""

import sys

from cracktie.cli import main

if __name__ == "__main__":
    sys.exit(main())
