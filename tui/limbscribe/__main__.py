"""``python -m limbscribe``: the same as the command ``limbscribe``."""

import sys

from limbscribe.tui.__main__ import main

if __name__ == "__main__":
    sys.exit(main())
