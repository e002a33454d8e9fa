"""The command as `python -m relamp`, where the folder of scripts is not on the path."""

import sys

from relamp.command import main

sys.exit(main())
