"""Blocks one below the other over as many pages as they need; none is broken, a heading keeps what follows it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from traveller.paper import typeset
from traveller.paper.canvas import INK, MARGIN_MM, RULE_INK, PaperSheet
from traveller.paper.fonts import Face

ROW_PT = 8.0
GAP_MM = 2.0
_Draw = Callable[[PaperSheet, float], None]


@dataclass(frozen=True, slots=True)
class Block:
    """So many millimetres high; `keeps`: never the last on its page; `head`: drawn again above it on a new page."""

    height: float
    draw: _Draw
    keeps: bool = False
    head: Block | None = None


@dataclass(frozen=True, slots=True)
class FlowRow:
    """Cells of a table; struck ones are crossed out, line by line, all but the last, which says why."""

    cells: tuple[str, ...]
    struck: bool = False
    bold: bool = False


@dataclass
class Flow:
    """Collects blocks for a sheet of some width."""

    width: float
    blocks: list[Block] = field(default_factory=list)

    def space(self, height: float) -> None:
        self.blocks.append(Block(height, lambda sheet, top: None, keeps=True))

    def heading(self, words: str, *, pt: float = 13.0) -> None:
        """A line that stays with what comes below it."""
        lines = typeset.wrap(words, "bold", pt, self.width)
        height = len(lines) * typeset.leading_mm(pt) + 3.5

        def draw(sheet: PaperSheet, top: float) -> None:
            if pt > 10:
                sheet.rule(MARGIN_MM, top + 0.8, self.width, pt=1.2)
            sheet.paragraph(MARGIN_MM, top + 2, words, width=self.width, face="bold", pt=pt)

        self.blocks.append(Block(height, draw, keeps=True))

    def words(self, words: str, *, pt: float = 8.5, face: Face = "plain", keeps: bool = False) -> None:
        """A paragraph, each of its lines free to go to the next page unless it keeps to what follows."""
        for line in typeset.wrap(words, face, pt, self.width):
            self.blocks.append(Block(typeset.leading_mm(pt), self._line(line, pt, face), keeps))
        self.space(1.0)

    def _line(self, line: str, pt: float, face: Face) -> _Draw:
        return lambda sheet, top: sheet.text(MARGIN_MM, top + typeset.leading_mm(pt) * 0.78, line, face=face, pt=pt)

    def table(self, heads: Sequence[str], shares: Sequence[float], rows: Sequence[FlowRow]) -> None:
        """Small rows under hairlines; nothing where there are no rows."""
        if not rows:
            return
        widths = [self.width * share / sum(shares) for share in shares]
        head = self._row(FlowRow(tuple(heads), bold=True), widths, keeps=True)
        self.blocks.append(head)
        self.blocks += [replace(self._row(row, widths), head=head) for row in rows]
        self.space(GAP_MM)

    def _row(self, row: FlowRow, widths: Sequence[float], *, keeps: bool = False) -> Block:
        face: Face = "bold" if row.bold else "plain"
        leading = typeset.leading_mm(ROW_PT)
        lines = [
            typeset.wrap(cell, face, ROW_PT, width - GAP_MM) for cell, width in zip(row.cells, widths, strict=True)
        ]
        height = max(1, *(len(cell) for cell in lines)) * leading + 1.4

        def draw(sheet: PaperSheet, top: float) -> None:
            pt, ink = (0.8, INK) if row.bold else (0.3, RULE_INK)
            sheet.rule(MARGIN_MM, top, self.width, pt=pt, ink=ink)
            x = MARGIN_MM
            for place, (cell, width) in enumerate(zip(lines, widths, strict=True)):
                for number, line in enumerate(cell):
                    base = top + 0.7 + leading * (number + 0.78)
                    sheet.text(x, base, line, face=face, pt=ROW_PT)
                    if row.struck and place < len(widths) - 1:
                        sheet.rule(x, base - 0.9, typeset.width_mm(line, face, ROW_PT), pt=0.7)
                x += width

        return Block(height, draw, keeps)

    def pages(self, room: Sequence[float]) -> list[list[Block]]:
        """Blocks by page: the first has room[0] mm, all later ones room[1]; kept ones go on with what follows."""
        pages: list[list[Block]] = [[]]
        left, start = room[0], 0
        while start < len(self.blocks):
            end = start
            while end + 1 < len(self.blocks) and self.blocks[end].keeps:
                end += 1
            group = self.blocks[start : end + 1]
            height = sum(block.height for block in group)
            if height > left and pages[-1]:
                pages.append([group[0].head] if group[0].head else [])
                left = room[1] - sum(block.height for block in pages[-1])
            pages[-1] += group
            left -= height
            start = end + 1
        return pages
