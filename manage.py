#!/usr/bin/env python3
"""Runs the project's commands."""

from __future__ import annotations

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "traveller.settings")
    if "demo" in sys.argv[1:2]:
        os.environ.setdefault("TRAVELLER_DEMO", "1")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
