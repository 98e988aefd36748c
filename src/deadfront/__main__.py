"""Command line: `python -m deadfront`."""

import sys

from deadfront.cli import main

sys.exit(main())
