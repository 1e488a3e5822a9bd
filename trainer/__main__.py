"""`python -m trainer` does what `trainer` does."""

import sys

from trainer.cli import main

sys.exit(main())
