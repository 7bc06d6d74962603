"""Which variant is it? A word that was tapped, or the code of a label or a traveller that was scanned instead."""

from __future__ import annotations

from traveller.batches.models import Batch
from traveller.ledger.models import Lot
from traveller.products.models import Part
from traveller.rules.checks.columns import same_word
from traveller.rules.codes import Scan, read


def confirmed(text: str, expected: str) -> str:
    """The word to be judged: `expected`, the plan's own, where the scanned thing is of its variant, colour or revision.

    Anything that is no code of ours stays as it was typed.
    """
    found = read(text)
    part = _part_of(found.code) if isinstance(found, Scan) else None
    if part is None:
        return text
    said = (part.variant, part.colour, part.title, part.number, f"{part.number} {part.revision}")
    fits = any(word and same_word(word, expected) for word in said)
    return expected if fits else part.variant or f"{part.number} {part.revision}"


def _part_of(code: str) -> Part | None:
    lot = Lot.objects.select_related("part").defer("part__picture").filter(code=code).first()
    if lot is not None:
        return lot.part
    batch = Batch.objects.select_related("part").defer("part__picture").filter(code=code).first()
    return batch.part if batch is not None else None
