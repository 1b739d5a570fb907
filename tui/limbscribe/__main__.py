"""``python -m limbscribe``: the same as the command ``limbscribe``."""

import sys

from limbscribe.tui.__main__ import main

sys.exit(main())
