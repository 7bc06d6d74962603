"""What goods are wanted for. One vocabulary for checks, holds, lists, scans and labels."""

from __future__ import annotations

from typing import Literal

__all__ = ["PURPOSE_ORDER", "Purpose"]

Purpose = Literal["start", "send", "consume", "pack", "ship"]

# In the order in which goods meet them: what stops early stops all that comes later.
PURPOSE_ORDER: tuple[Purpose, ...] = ("start", "send", "consume", "pack", "ship")
