#!/usr/bin/env python3
"""Runs Django's commands inside .venv, on the data folder that ``python3 -m shop serve`` uses."""

import os
import sys

from shop import __main__ as start
from shop import environment


def main() -> int:
    """Run one command and return the exit code."""
    try:
        environment.check_python(sys.version_info[:3])
        environment.enter_venv(environment.RUNTIME, [os.path.abspath(__file__)] + sys.argv[1:])
        start.open_data_folder()
    except environment.Trouble as trouble:
        print("Evening Pour:", trouble, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped.", file=sys.stderr)
        return 130

    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
    return 0


if __name__ == "__main__":
    sys.exit(main())
