"""`python -m plytide.cli`."""

import sys

from plytide.cli import main

sys.exit(main())
