"""`python -m wetfront`."""

import sys

from wetfront.cli import main

sys.exit(main())
