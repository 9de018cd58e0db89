"""Run the command line with ``python -m correlate``."""

from correlate.cli import program

if __name__ == "__main__":
    program()
