"""`python -m asfound`."""

import os
import sys

# Python puts the folder it is started in first on its path; a file beside a stranger's record must not run.
if sys.path and sys.path[0] in ("", os.getcwd()):
    del sys.path[0]

from asfound.command import main

if __name__ == "__main__":
    main(prog_name="asfound")
