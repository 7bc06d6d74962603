"""How large a workbook may be in every direction; what is more is refused in words before it costs much."""

from __future__ import annotations

MEGABYTE = 1024 * 1024
FILE_BYTES_MAX = 20 * MEGABYTE
UNPACKED_BYTES_MAX = 80 * MEGABYTE
FILES_MAX = 500
# Spreadsheets pack to a tenth or a twentieth; what packs much better was made to grow.
RATIO_MAX = 250
RATIO_ASKED_FROM_BYTES = MEGABYTE
SHEETS_MAX = 60
ROWS_MAX = 20_000
COLUMNS_MAX = 60
# Cells that hold something, in all sheets together.
CELLS_MAX = 1_000_000
# Rows and cells that are written in the file, empty ones too: passing over them takes time as well.
PLACES_MAX = 1_500_000
CHARACTERS_MAX = 24_000_000
LINE_CHARACTERS_MAX = 200_000
PICTURE_BYTES_MAX = 2 * MEGABYTE
PICTURE_SIDE_MAX = 1200
# What is told of a text that no column takes: how long it is, and its beginning.
LONG_TEXT = 4_000


class BookRefused(Exception):
    """Something that cannot be read at all, in words: what was found, what is wrong, what would be right."""

    def __init__(self, found: str, wrong: str, right: str) -> None:
        super().__init__(wrong)
        self.found, self.wrong, self.right = found, wrong, right


_SPLIT = "split the workbook and import one after the other"


class Counted:
    """What was read so far of one workbook, over all its sheets. Each `add` raises Refused past its bound."""

    def __init__(self) -> None:
        self.cells = self.places = self.characters = 0

    def add_cells(self, filled: int, characters: int) -> None:
        """Cells of a row that hold something, and the length of their texts."""
        self.cells += filled
        self.characters += characters
        if self.cells > CELLS_MAX:
            raise BookRefused(
                "", f"holds more than {CELLS_MAX:,} cells", "split the workbook and import one after the other"
            )
        self.add_characters(0)

    def add_characters(self, characters: int) -> None:
        """Letters that are kept, of whatever text."""
        self.characters += characters
        if self.characters > CHARACTERS_MAX:
            most = f"{CHARACTERS_MAX // 1_000_000} million letters"
            raise BookRefused("", f"holds more than {most}", _SPLIT)

    def add_places(self, places: int) -> None:
        """Rows and cells that stand in the file, filled or not."""
        self.places += places
        if self.places > PLACES_MAX:
            right = "copy the filled rows into a new workbook"
            raise BookRefused("", f"holds more than {PLACES_MAX:,} cells, most of them empty", right)
