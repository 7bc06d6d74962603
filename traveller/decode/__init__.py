"""Strangers' bytes are decoded here, in a child process that can do nothing else: never in the server."""

from __future__ import annotations

from traveller.decode.ask import Decoded, Undecoded, decode

__all__ = ["Decoded", "Undecoded", "decode"]
