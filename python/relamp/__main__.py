"""The command as `python -m relamp`, where the folder of scripts is not on the path."""

import sys

from relamp.command import _process

# Importing it, as a check of the stubs does, runs nothing.
if __name__ == "__main__":
    sys.exit(_process())
