"""`python -m sizewright`, the same as the command `sizewright`."""

import sys

from .cli.main import main

sys.exit(main())
