"""Run the command line with ``python -m correlate``."""

from correlate.cli import main

if __name__ == "__main__":
    main()
