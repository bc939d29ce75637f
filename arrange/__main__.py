"""``python -m arrange`` is the same as ``leverwright``."""

import sys

from arrange.cli import main

if __name__ == "__main__":
    sys.exit(main())
