"""What a process took for a large upload it gives back to the system, instead of keeping it for the next."""

from __future__ import annotations

import ctypes

__all__ = ["give_memory_back"]

# mallopt(3) of the C library of GNU: which blocks are taken from the system one by one, from how many bytes of free
# memory at its end the heap shrinks, and how many heaps the threads of a process share.
_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8
LARGE_BYTES = 128 * 1024
HEAPS = 2


def give_memory_back() -> bool:
    """Ask the C library for it; False where it knows no such thing (then it keeps what it had).

    Left alone it learns from the first upload of 16 MB to keep as much for each of its heaps: a server of four threads
    grew from 90 to 300 MB under large files and stayed there (measured by `trial hostile`).
    """
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError):
        return False
    wanted = ((_MMAP_THRESHOLD, LARGE_BYTES), (_TRIM_THRESHOLD, LARGE_BYTES), (_ARENA_MAX, HEAPS))
    return all(mallopt(name, value) == 1 for name, value in wanted)
