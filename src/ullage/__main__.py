"""Let ``python -m ullage`` do what ``ullage`` does."""

from __future__ import annotations

import sys

from ullage.cli.entry import main

if __name__ == "__main__":
    sys.exit(main())
