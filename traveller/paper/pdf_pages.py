"""The first pages of a PDF that somebody sent, as pictures, or in words why they are not shown."""

from __future__ import annotations

from dataclasses import dataclass

FAULTS = {
    "being_read": "Its pages are still being drawn.",
    "locked": "Its pages cannot be shown: it is locked by a password.",
    "damaged": "Its pages cannot be shown: it is damaged, or no complete PDF.",
    "endless": "Its pages cannot be shown: drawing them takes too long.",
    "ended": "Its pages cannot be shown: drawing them was cut short three times. Send it again.",
    "heavy": "Its pages cannot be shown: drawing them takes too much memory.",
}


@dataclass(frozen=True, slots=True)
class PdfPages:
    """JPEGs of the first pages, how many pages there are, and why there is none."""

    pictures: tuple[bytes, ...] = ()
    total: int = 0
    fault: str = ""

    @property
    def note(self) -> str:
        """What is not shown, in words; empty where all is."""
        more = self.total - len(self.pictures)
        if self.fault:
            return f"{FAULTS[self.fault]} The original is kept as it was sent."
        return f"{more:,} more page{'' if more == 1 else 's'} in the original." if more else ""
