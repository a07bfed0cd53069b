"""`python -m livepedal` is the same as the console script `livepedal`."""

import sys

from livepedal.cli import main

if __name__ == "__main__":
    sys.exit(main())
