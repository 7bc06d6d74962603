"""The machine that prints, with other fonts than it had."""

from __future__ import annotations

from traveller.paper import fonts


def forget_fonts() -> None:
    """Have fonts looked for afresh, after a test took them away or gave them back."""
    for name in vars(fonts):
        if clear := getattr(getattr(fonts, name), "cache_clear", None):
            clear()
