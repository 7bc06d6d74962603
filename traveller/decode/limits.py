"""How much time, memory and room each kind of decoding may take. What is more is refused, whoever sends it."""

from __future__ import annotations

from dataclasses import dataclass

MEGABYTE = 1 << 20
# A whole photo of a phone of today; more is no photo of a work piece.
PIXELS_MAX = 25_000_000
FORMATS = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
# What a child may answer at the most: six drawn pages or the readings of the longest log are far below.
ANSWER_BYTES_MAX = 48 * MEGABYTE


@dataclass(frozen=True, slots=True)
class Limit:
    """Seconds of the processor, seconds by the clock (waiting for a slot not counted), bytes of address space."""

    cpu_s: int
    wall_s: float
    memory_bytes: int
    # Which places it may take, the first free one; see `slots`.
    slots: tuple[str, ...] = ("file",)
    slot_wait_s: float = 60.0


# Address space measured with `VmPeak` (a fresh child takes 20 MB, with arrays 100): a PNG of 12 megapixels 110 to 136,
# of 25 megapixels 175, a WEBP of 12 megapixels 221, a JPEG of 25 megapixels 137 (one in passes and of full colour needs
# more, and is unreadable); six scanned pages of 600 dpi 125; a log of 299,000 lines 264; a sheet of 20,000 rows and 20
# columns 114. The photo of a code has room for a JPEG of a phone and a PNG of 12 megapixels, not for more: it is read
# beside the largest of the others.
LIMITS: dict[str, Limit] = {
    # Somebody stands there with the phone in the hand: read at once, or the code is typed.
    "code": Limit(cpu_s=3, wall_s=3.0, memory_bytes=160 * MEGABYTE, slots=("code",), slot_wait_s=1.0),
    "picture": Limit(cpu_s=6, wall_s=12.0, memory_bytes=240 * MEGABYTE),
    "pdf": Limit(cpu_s=6, wall_s=12.0, memory_bytes=200 * MEGABYTE),
    "log": Limit(cpu_s=8, wall_s=12.0, memory_bytes=300 * MEGABYTE),
    "book": Limit(cpu_s=20, wall_s=40.0, memory_bytes=200 * MEGABYTE),
}
