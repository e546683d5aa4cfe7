"""`python -m asfound`."""

from asfound.command import main

if __name__ == "__main__":
    main(prog_name="asfound")
