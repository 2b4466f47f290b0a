"""``python -m ui`` is the command ``clearface``."""

import sys

from ui.cli import main

sys.exit(main())
