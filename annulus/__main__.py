"""`python -m annulus` runs the command line."""

import sys

from annulus.cli import main

sys.exit(main())
