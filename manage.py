#!/usr/bin/env python
"""Waneyard's command line."""

import os
import sys
from pathlib import Path


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "catalogue.settings")
    if "demo" in sys.argv[1:2] and "DATABASE_URL" not in os.environ:
        # The invented yard lives apart, so that a real one is never mixed up with it.
        var = os.environ.get("WANEYARD_VAR", str(Path(__file__).resolve().parent / "var"))
        os.environ["WANEYARD_VAR"] = str(Path(var) / "demo")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
