"""What each shop does for the order, on its own pages and in as few steps as the pages let it.

A step that is done in loads starts with its first load; all others are started by their great button.
"""

from __future__ import annotations

from collections.abc import Callable

from tests.stories.phone import Phone

DONE = "With this the step is done"


def mould_globes(moulder: Phone, code: str, resin: str, approve: Callable[[], None]) -> None:
    """Dry and mould: sixteen shots of two cavities, four of them to start up; 24 born, one of them short.

    Both rims are measured, and the founder approves the first piece before the 24 are counted.
    """
    moulder.scan(code)
    moulder.load(0, went_in=300, came_out=45, read={"Dryer temperature?": "120"})
    moulder.done()
    moulder.follow("Next: 20 · mould")
    moulder.start("mould")
    moulder.measure("79.405", "79.3445")
    moulder.follow("Go on: mould")
    moulder.says("waits for approval")
    approve()
    reported = {"Shots": 16, "Lot used: Polycarbonate resin, red": resin, "short": 1, DONE: True}
    moulder.count(23, reported)


def finish_globes(moulder: Phone, inserts: str) -> None:
    """Cool in two loads, fit inserts, test in water: one warped, one cracked, none leaks; 21 good."""
    moulder.follow("Next: 30 · cool on the fixture")
    moulder.load(12, went_in=110, came_out=94)
    moulder.count(12)
    moulder.follow("Go on: cool on the fixture")
    moulder.load(11, went_in=92, came_out=76)
    moulder.count(10, {"warped": 1})
    moulder.follow("Next: 40 · fit insert and deburr")
    moulder.start("fit insert and deburr")
    moulder.count(22, {"Lot used: Polypropylene insert": inserts})
    moulder.follow("Next: 50 · water test every piece")
    moulder.start("water test every piece")
    moulder.find_leak()
    moulder.find_leak()
    moulder.count(21, {"leak at gate": 1})


def cure_bands(rubber: Phone, code: str) -> None:
    """One press closing of all thirty; two of them are cut open."""
    rubber.scan(code)
    rubber.load(30, went_in=60, came_out=51)
    rubber.count(28, {"Taken as samples": 2})


def print_bands(printer: Phone, code: str, plain: str) -> None:
    """White ground, oven, red, oven: one smudged, one off register; 21 good."""
    printer.scan(code)
    printer.start("print first colour")
    assert printer.clock is not None
    # Whether the ink was in date is known once it was used.
    printer.measure(printer.clock.local(60, printer.zone), "24", proves=False)
    printer.follow("Go on: print first colour")
    printer.count(22, {"Lot used: Plain band": plain, "smudged": 1, DONE: True})
    printer.follow("Next: 20 · oven between colours")
    printer.load(22, went_in=150, came_out=124)
    printer.count(22)
    printer.follow("Next: 30 · print second colour")
    printer.start("print second colour")
    printer.measure("red")
    printer.follow("Go on: print second colour")
    printer.count(21, {"off register": 1})
    printer.follow("Next: 40 · final bake")
    printer.load(21, went_in=100, came_out=60)
    printer.follow("Back to the step")
    printer.measure("3", "0")
    printer.follow("Next: count load 1")
    printer.count(21)


def assemble(bench: Phone, code: str, lots: dict[str, str]) -> None:
    """Twenty-one put together; one is scratched."""
    bench.scan(code)
    bench.start("assemble")
    used = {f"Lot used: {part}": lot for part, lot in lots.items()}
    bench.count(20, {**used, "scratched": 1, DONE: True})
