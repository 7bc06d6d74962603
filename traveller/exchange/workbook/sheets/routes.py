"""The sheets of how parts are made: the steps of each, and the checks of each step."""

from __future__ import annotations

from dataclasses import field
from decimal import Decimal
from typing import Final

from traveller.exchange.workbook.cells import (
    choice,
    read_code,
    read_decimal,
    read_line,
    read_lines,
    read_whole,
    read_words,
    slug,
)
from traveller.exchange.workbook.columns import PARAMETERS, SITE, STEP, percent_of, words_out
from traveller.exchange.workbook.stored import at, each_word, percentage, site_at, with_others
from traveller.exchange.workbook.tables import Row, column, record_of_columns, sheet_of
from traveller.rules.cautions import CLASSES
from traveller.rules.checks import KINDS

__all__ = ["CHECKS", "ROUTINGS", "CheckRow", "RoutingRow"]

_YIELD = percent_of(read_decimal(most=Decimal(100), above=Decimal(0)))


@record_of_columns
class RoutingRow(Row):
    """One step on a part's way."""

    part: str = column(read_code(), "The part that is made.", with_others("routing.part.number"), "GLOBE-AM")
    step: int = column(
        STEP,
        "The step's number: steps are done in the order of their numbers; 10, 20, 30 leaves room.",
        at("number"),
        "20",
    )
    site: str = column(SITE, "The site that does the step.", site_at("site"), "moulder")
    verb: str = column(read_line(60), "What is done, as it stands on the traveller.", at("verb"), "mould")
    kind: str = column(
        choice("prepare", "make", "work"),
        "prepare readies material and counts no pieces; make is the one step at which the pieces come to be; every "
        "step after it is work.",
        at("kind"),
        "make",
    )
    operation: str = column(
        choice(*CLASSES),
        "The class of work: it chooses the cautions on page and traveller. Work that is not in the list (machining, "
        "coating, sanding, oiling) is other, which shows the general cautions; the verb says what it is.",
        at("work"),
        "moulding",
        default="other",
    )
    yield_percent: Decimal = column(
        _YIELD,
        "How many of 100 pieces that enter the step are expected to come out good: the plan starts so many more. "
        "96 is 96 %.",
        percentage("yield_ppm"),
        "97.5",
        default=Decimal(100),
        unit="% of the pieces that enter",
    )
    destroyed: int = column(
        read_whole(0, 100_000),
        "Good pieces of a batch that a test at this step uses up: they leave the batch, so the plan starts so many "
        "more. Pieces that are inspected and stay are no matter of this column: a check says them.",
        at("destroyed"),
        "3",
        default=0,
        unit="pieces of each batch",
        was="samples",
    )
    kept: int = column(
        read_whole(0, 100_000),
        "Good pieces of a batch that are kept as retained samples or as masters: they leave the batch too, so the plan "
        "starts so many more.",
        at("kept"),
        "1",
        default=0,
        unit="pieces of each batch",
    )
    cavities: int = column(
        read_whole(0, 512),
        "Pieces that one shot of the mould makes: a step with cavities is counted in shots. Empty where there is no "
        "mould.",
        at("cavities"),
        "2",
        default=0,
        unit="pieces of a shot",
    )
    load_size: int = column(
        read_whole(0, 1_000_000),
        "Most pieces that go into an oven, press, fixture or rack at once: the step is then done and recorded in "
        "loads. Empty where it is done piece by piece.",
        at("load_size"),
        "24",
        default=0,
        unit="pieces of a load",
    )
    startup_shots: int = column(
        read_whole(0, 100_000),
        "Shots thrown away when the mould is started: the plan adds their material. Only at the step of kind make.",
        at("startup_shots"),
        "4",
        default=0,
        unit="shots of each batch",
    )
    tool: str = column(
        read_line(60),
        "The mould, die, plate or fixture, as the shop calls it.",
        at("tool"),
        "G-2, two cavities",
        default="",
    )
    cycle_seconds: int = column(
        read_whole(0, 1_000_000),
        "The time of one piece, shot or load; kept for planning by hours, which reads it later: no date is reckoned "
        "with it today.",
        at("cycle_seconds"),
        "42",
        default=0,
        unit="seconds",
    )
    setup_minutes: int = column(
        read_whole(0, 100_000),
        "The time to set the step up; kept for planning by hours, which reads it later: no date is reckoned with it "
        "today.",
        at("setup_minutes"),
        "45",
        default=0,
        unit="minutes of each batch",
    )
    instruction: str = column(
        read_lines(300),
        "What whoever does it must know, in one or two sentences.",
        at("instruction"),
        "Keep the first piece of each cavity.",
        default="",
    )
    scrap_reasons: tuple[str, ...] = column(
        read_words,
        "Why a piece of this step may be scrap: the words that the count offers.",
        each_word("scrap_reasons"),
        "short | flash | splay",
        default=(),
        dump=words_out,
        takes="a list, its words separated by | or ;",
    )


@record_of_columns
class CheckRow(Row):
    """What a step must prove; `parameters` are the kind's own columns, as text with a decimal point."""

    part: str = column(read_code(), "The part that is made.", with_others("operation.routing.part.number"), "GLOBE-AM")
    step: int = column(STEP, "The step that has to prove it.", with_others("operation.number"), "30")
    check: str = column(
        slug(32), "A short name of the check, once in a step: it stands in addresses.", at("key"), "cool-again"
    )
    kind: str = column(
        read_line(24),
        "How it is proved, by one of the kinds of check below; the kind says which further columns it reads.",
        at("kind"),
        next(iter(KINDS)),
        takes="the name of a kind of check",
    )
    scope: str = column(
        choice("load", "step", "lot", "piece"),
        "Of what it is proved: of each load by itself, of the step as a whole, of the lot as a whole, or of each "
        "piece. Each kind takes some of these.",
        at("scope"),
        "step",
    )
    blocks: str = column(
        choice("step", "sending", "consuming", "packing", "nothing"),
        "The first thing that may not go on while it is not proved, and all that comes after it: the next step, "
        "sending to another site, use in an assembly, packing; nothing is advice that stops nothing.",
        at("blocks"),
        "packing",
    )
    parameters: tuple[tuple[str, str], ...] = field(default=())
    source: str = column(
        read_line(),
        "Where the limit comes from: a data sheet, a standard, an agreement, or common practice without a source. "
        "It stands beside the limit on papers.",
        at("source"),
        "data sheet of the resin",
        default="",
    )


ROUTINGS: Final = sheet_of(
    "routings", "The steps of each made part, and where each is done.", RoutingRow, ("part", "step"), needed=True
)
CHECKS: Final = sheet_of(
    "checks",
    "What each step has to prove. Which columns a row needs is said by its kind of check.",
    CheckRow,
    ("part", "step", "check"),
    parameters=PARAMETERS,
)
