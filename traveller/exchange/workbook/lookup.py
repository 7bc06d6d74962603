"""What a row may point at: the workbook's own rows, and what the database knew before."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from traveller.exchange.workbook.known import Known, KnownPart
from traveller.exchange.workbook.problems import Findings, offer
from traveller.exchange.workbook.rows import PartRow, Workbook
from traveller.rules.checks.columns import same_word


def confirmable_words(part: PartRow) -> tuple[str, ...]:
    """What a part may be called by where a variant is confirmed."""
    return tuple(word for word in (part.variant, part.colour, part.revision, f"{part.part} {part.revision}") if word)


class Lookup:
    """Sites, parts and order lines by their names. A row with a bad cell counts as there, its details unknown."""

    def __init__(self, workbook: Workbook, known: Known, findings: Findings) -> None:
        self._findings = findings
        self.sites: dict[str, str | None] = dict(known.sites)
        self.sites |= {str(half["site"]): None for half in findings.half_read.get("sites", ()) if "site" in half}
        self.sites |= {row.site: row.kind for row in workbook.sites}
        self.parts: dict[str, KnownPart | None] = dict(known.parts)
        self.parts |= {str(half["part"]): None for half in findings.half_read.get("parts", ()) if "part" in half}
        self.parts |= self._own_parts(workbook, known)
        self.order_lines: dict[tuple[str, int], str | None] = dict(known.order_lines)
        for half in findings.half_read.get("orders", ()):
            if isinstance(line := half.get("line"), int):
                self.order_lines[str(half.get("order", "")), line] = None
        self.order_lines |= {(row.order, row.line): row.part for row in workbook.orders}
        self.lanes = known.lanes | {(row.from_site, row.to_site) for row in workbook.lanes}

    def _own_parts(self, workbook: Workbook, known: Known) -> dict[str, KnownPart]:
        """The parts of this workbook; where it says nothing of steps or components, the known ones stand."""
        steps: dict[str, dict[int, str]] = {}
        for row in workbook.routings:
            steps.setdefault(row.part, {})[row.step] = row.site
        for half in self._findings.half_read.get("routings", ()):
            if isinstance(step := half.get("step"), int):
                steps.setdefault(str(half.get("part", "")), {}).setdefault(step, str(half.get("site", "")))
        bills: dict[str, list[str]] = {}
        for bill in workbook.bills:
            bills.setdefault(bill.part, []).append(bill.component)
        return self._described(workbook, known, steps, bills)

    @staticmethod
    def _described(
        workbook: Workbook, known: Known, steps: Mapping[str, dict[int, str]], bills: Mapping[str, list[str]]
    ) -> dict[str, KnownPart]:
        found: dict[str, KnownPart] = {}
        own = {row.part: (row.kind, row.unit) for row in workbook.parts}
        words = {row.part: confirmable_words(row) for row in workbook.parts}
        for number in {**own, **known.parts}:
            before = known.parts.get(number)
            kind, unit = own.get(number) or (before.kind, before.unit) if before else own[number]
            found[number] = KnownPart(
                kind,
                unit,
                steps.get(number) or (dict(before.steps) if before else {}),
                tuple(bills.get(number) or (before.components if before else ())),
                words.get(number) or (before.words if before else ()),
            )
        return found

    def has_word(self, word: str) -> bool:
        """Is some part of this variant, colour or revision? Also where not all is known of every part."""
        return any(part is None or any(same_word(word, one) for one in part.words) for part in self.parts.values())

    def site(self, sheet: str, row: int, column: str, code: str) -> bool:
        """Note a site that nobody knows."""
        if code in self.sites or "sites" in self._findings.unread:
            return True
        self._unknown(sheet, row, column, code, "is not a site", self.sites, "add it to the sheet sites")
        return False

    def part(self, sheet: str, row: int, column: str, number: str) -> KnownPart | None:
        """The part, if all is known of it; a part that nobody knows is noted."""
        if number not in self.parts and "parts" not in self._findings.unread:
            self._unknown(sheet, row, column, number, "is not a part", self.parts, "add it to the sheet parts")
        return self.parts.get(number)

    def step(self, sheet: str, row: int, column: str, number: str, step: int) -> str | None:
        """The site of a part's step; a step that the routing has not is noted."""
        part = self.parts.get(number)
        if part is None or "routings" in self._findings.unread:
            return None
        if step in part.steps:
            return part.steps[step] or None
        if part.steps:
            right = "its steps are " + ", ".join(str(each) for each in sorted(part.steps))
        else:
            right = f"give {number} its steps in the sheet routings"
        self._findings.wrong(sheet, row, column, step, f"is not a step of {number}", right)
        return None

    def _unknown(
        self, sheet: str, row: int, column: str, found: str, wrong: str, valid: Iterable[str], otherwise: str
    ) -> None:
        self._findings.wrong(sheet, row, column, found, wrong, offer(found, valid, otherwise, list_up_to=0))
