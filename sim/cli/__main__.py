"""`python -m sim.cli` is `thwart`."""

import sys

from sim.cli import main

sys.exit(main())
