"""Where the next pieces of a component are: what is not at the bench yet, and what is still to be made."""

from __future__ import annotations

import re
from dataclasses import dataclass

from tests.reckoning.figures import Expected, number
from tests.reckoning.goods import LYING, Known
from tests.reckoning.outlook import Lookout
from tests.reckoning.rows import Place

TOLD_MOST = 3
IN_CELL = re.compile(r"(?P<n>\S+)(?P<held> held)? · (?P<where>.+?) · (?P<code>\w{3}-\w{3}-\w)")
IN_SENTENCE = re.compile(r"(?P<n>\S+)(?P<held> held)?, (?P<where>.+) \((?P<code>\w{3}-\w{3}-\w)\)")


@dataclass(frozen=True)
class Coming:
    """So many pieces of a lot; `step`: the one that they wait for, or that makes them; `ahead`: so many to go."""

    pieces: int
    code: str
    held: bool
    site: str
    step: int
    ahead: int

    def is_told(self, found: re.Match[str]) -> bool:
        """With its place, and its step where it waits for one."""
        where = found["where"]
        step = re.search(r"(?:waits for|in step|·) (\d+),", where)
        return (
            number(found["n"]) == self.pieces
            and (found["code"], bool(found["held"])) == (self.code, self.held)
            and self.site in where
            and (step is None or int(step[1]) == self.step)
            and (step is not None or not self.step or "road" in where or "done" in where)
        )


def of(known: Known, part: int) -> list[Coming]:
    """Nearest first, what is held last."""
    found = [_lies(known, place, n) for place, n in known.rows.lying(*LYING).items() if _is_coming(known, part, place)]
    lookout = Lookout.at(known)
    for batch in known.rows.batches.values():
        unborn = lookout.unborn(batch.id) if batch.part_id == part and batch.parent_id is None else 0
        if unborn:
            steps = known.rows.steps_of(batch.id)
            making = [s for s in steps if known.rows.operations[s.operation_id].kind == "make" and s.state != "done"]
            site = known.rows.sites[making[0].site_id].name
            found.append(Coming(unborn, known.code(batch.code), False, site, making[0].number, len(steps)))
    return sorted(found, key=lambda one: (one.held, one.ahead))


def _is_coming(known: Known, part: int, place: Place) -> bool:
    if known.rows.lots[place.lot].part_id != part or place.condition == "packed":
        return False
    return not (place.condition == "stock" and not place.step and place.site == known.bench.id)


def _lies(known: Known, place: Place, n: int) -> Coming:
    ahead = known.steps_left(place) if place.step else 0
    code = known.code(known.rows.lots[place.lot].code)
    return Coming(n, code, place.lot in known.held, known.rows.sites[place.site].name, place.step, ahead)


def cell(known: Known, shown: str, parts: list[int]) -> Expected:
    """What a cell ought to say of these parts, the first few of each: itself, where it says so."""
    found = list(IN_CELL.finditer(shown))
    expected = [one for part in parts for one in of(known, part)[:TOLD_MOST]]
    ranks = [(one.held, one.ahead) for one in expected]
    told = [next((one for part in parts for one in of(known, part) if one.is_told(match)), None) for match in found]
    if [one and (one.held, one.ahead) for one in told] == ranks and len(set(told)) == len(told):
        # Of several parts each is named, also those of which nothing is coming.
        return shown if found or re.fullmatch(r"(?:[^–]+: –\s*)*", shown) else None
    return "; ".join(str(one) for one in expected)


def sentence(known: Known, shown: str, part: int) -> Expected:
    """Of one part the nearest."""
    found, all_ = IN_SENTENCE.fullmatch(shown), of(known, part)
    first = [one for one in all_ if (one.held, one.ahead) == (all_[0].held, all_[0].ahead)]
    return shown if found and any(one.is_told(found) for one in first) else str(first)
