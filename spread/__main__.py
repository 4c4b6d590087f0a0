"""``python -m spread``: the command line."""

import sys

from spread.cli import main

sys.exit(main())
