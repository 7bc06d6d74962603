"""The process record of a batch: everything that was told, measured, judged and decided. No certificate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from traveller.paper import codes, letterhead, words
from traveller.paper.canvas import MARGIN_MM, PaperSheet, PaperSize
from traveller.paper.flow import Block, Flow, FlowRow
from traveller.paper.log_picture import HEIGHT_MM, LogPicture, draw_log
from traveller.paper.writing_box import WritingBox, draw_writing_box
from traveller.rules.codes import TravellerCode, show_code

CLOSING = (
    "This is a record of what was told, measured and decided. It is not a certificate and claims compliance with "
    "no standard, law or regulation. Times are those of the site where it happened."
)
SIGNATURES = ("made by: name, date", "checked by: name, date", "released by: name, date")
SIGN_MM = 19.0
PHOTO_MM = 58.0
# Some 280 dots an inch: enough to see a short shot on paper.
PHOTO_PX = 900
# A page of someone else's paper, at some two thirds of its size: ten points are still read.
PAGE_MM = 190.0


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """A value as it was typed; `struck` says why it counts no longer."""

    name: str
    value: str
    limit: str
    by: str
    at: datetime
    struck: str = ""


@dataclass(frozen=True, slots=True)
class CheckedLine:
    """A verdict in figures on the step or on one load; `note`: concession, or that a later verdict took its place."""

    name: str
    of: str
    verdict: str
    figures: str
    limit: str
    note: str = ""
    replaced: bool = False


@dataclass(frozen=True, slots=True)
class LoadRow:
    number: int
    quantity: int
    place: str
    started_at: datetime
    ended_at: datetime | None
    note: str = ""
    struck: bool = False


@dataclass(frozen=True, slots=True)
class FileRow:
    """A file as it was kept: the beginning of its digest and all of it, what was understood of it, a log's picture;
    `photo`: the picture to be printed, as a JPEG without what the phone wrote into it; `pages`: those of a PDF."""

    kind: str
    name: str
    of: str
    digest: str
    by: str
    at: datetime
    understood: str = ""
    struck: str = ""
    picture: LogPicture | None = None
    whole_digest: str = ""
    photo: bytes | None = None
    pages: tuple[bytes, ...] = ()


@dataclass(frozen=True, slots=True)
class StepRecord:
    """One step; `counts` are label and words: "scrap", "5 (short 3, dirty 2)"."""

    number: int
    verb: str
    site: str
    zone: str
    reported_by: tuple[str, ...]
    started_at: datetime | None
    done_at: datetime | None
    counts: tuple[tuple[str, str], ...] = ()
    loads: tuple[LoadRow, ...] = ()
    readings: tuple[ReadingRow, ...] = ()
    checks: tuple[CheckedLine, ...] = ()
    files: tuple[FileRow, ...] = ()


@dataclass(frozen=True, slots=True)
class UsedRow:
    """A lot that went in; `inferred`: nobody scanned it, it follows from the bill."""

    what: str
    lot: str
    supplier_number: str
    quantity: str
    inferred: bool


@dataclass(frozen=True, slots=True)
class Remark:
    """A hold, a correction, something told late: when, what, by whom, and what became of it."""

    at: datetime
    what: str
    by: str
    then: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcessRecord:
    """The whole record; facts are label and lines for the head."""

    code: TravellerCode
    public_address: str
    maker: str
    part: str
    facts: tuple[tuple[str, tuple[str, ...]], ...]
    steps: tuple[StepRecord, ...]
    used: tuple[UsedRow, ...] = ()
    holds: tuple[Remark, ...] = ()
    corrections: tuple[Remark, ...] = ()
    late: tuple[Remark, ...] = ()
    news: int = 0
    last_news_at: datetime | None = None


def draw_process_record(content: ProcessRecord, *, size: PaperSize) -> bytes:
    """As many pages as it needs, the code on each."""
    sheet = PaperSheet(size, title=f"Process record {show_code(content.code)}", author=content.maker)
    flow = _flow(content, sheet.width - 2 * MARGIN_MM)
    facts = [content.facts[at : at + 4] for at in range(0, len(content.facts), 4)]
    room = sheet.height - MARGIN_MM - letterhead.PAGE_FOOT_MM - letterhead.HEAD_END_MM
    pages = flow.pages((room - letterhead.facts_height(sheet, facts) - 2, room))
    link = codes.address(content.public_address, content.code) if content.public_address else ""
    for index, page in enumerate(pages):
        if index:
            sheet.next_page()
        number = f"page {index + 1} of {len(pages)}"
        top = letterhead.draw_head(
            sheet, kind="Process record", number=show_code(content.code), bars=content.code, link=link, page=number
        )
        if not index:
            top = letterhead.draw_facts(sheet, facts, top) + 2
        for block in page:
            block.draw(sheet, top)
            top += block.height
        letterhead.draw_page_foot(
            sheet, f"{content.maker}  ·  {content.part}", f"{show_code(content.code)}  ·  {number}"
        )
    return sheet.finish()


def _flow(content: ProcessRecord, width: float) -> Flow:
    flow = Flow(width)
    for step in content.steps:
        _step(flow, step)
    flow.heading("Lots used")
    if content.used:
        flow.table(
            ("what", "lot", "supplier's number", "quantity", "how it is known"),
            (5, 2, 3, 2, 4),
            [
                FlowRow((
                    row.what, row.lot, row.supplier_number, row.quantity,
                    "follows from the bill, nobody scanned it" if row.inferred else "told",
                ))
                for row in content.used
            ],
        )  # fmt: skip
    else:
        flow.words("None was told.")
    for title, rows, none in (
        ("Holds and decisions", content.holds, "It was never held."),
        ("Corrections", content.corrections, "No count was corrected."),
        ("Told late", content.late, "Nothing was told more than half an hour after it happened."),
    ):
        flow.heading(title)
        if rows:
            cells = [FlowRow((words.moment_on_paper(row.at), row.what, row.by, row.then)) for row in rows]
            flow.table(("when", "what", "by", "then"), (3, 6, 3, 5), cells)
        else:
            flow.words(none)
    _close(flow, content)
    return flow


def _close(flow: Flow, content: ProcessRecord) -> None:
    flow.heading("Signatures")

    def sign(sheet: PaperSheet, top: float) -> None:
        third = flow.width / 3
        for column, label in enumerate(SIGNATURES):
            draw_writing_box(sheet, MARGIN_MM + column * third, top, third, 16, WritingBox(label))

    flow.blocks.append(Block(SIGN_MM, sign, keeps=True))
    if content.last_news_at:
        flow.words(
            f"State of the record after {words.figure(content.news)} pieces of news, the last recorded "
            f"{words.moment_on_paper(content.last_news_at)}."
        )
    flow.words(CLOSING, face="bold")


def _step(flow: Flow, step: StepRecord) -> None:
    flow.heading(f"{step.number}  {step.verb}, at {step.site}")
    times = [
        f"started {words.moment_on_paper(step.started_at)}" if step.started_at else "no start was told",
        f"done {words.moment_on_paper(step.done_at)}" if step.done_at else "not said to be done",
        f"told by {words.listed(step.reported_by)}" if step.reported_by else "nothing told",
        f"times in {step.zone}",
    ]
    flow.words("; ".join(times) + ".", keeps=True)
    if step.counts:
        flow.words("  ·  ".join(f"{label} {figure}" for label, figure in step.counts), face="bold")
    flow.table(
        ("load", "pieces", "place", "in", "out", "note"),
        (1, 1.3, 2.5, 3.2, 3.2, 4.5),
        [
            FlowRow((
                str(row.number), words.figure(row.quantity) if row.quantity else "–", row.place,
                words.moment_on_paper(row.started_at),
                words.moment_on_paper(row.ended_at) if row.ended_at else "not told",
                row.note,
            ), row.struck)
            for row in step.loads
        ],
    )  # fmt: skip
    flow.table(
        ("reading", "value", "limit", "when", "by", "note"),
        (3.5, 2, 4, 3, 2.5, 3),
        [
            FlowRow(
                (row.name, row.value, row.limit, words.moment_on_paper(row.at), row.by, row.struck), bool(row.struck)
            )
            for row in step.readings
        ],
    )
    flow.table(
        ("check", "of", "verdict", "in figures", "limit", "note"),
        (2.4, 1.9, 1.7, 4.8, 3, 3.2),
        [
            FlowRow((row.name, row.of, row.verdict, row.figures, row.limit, row.note), row.replaced)
            for row in step.checks
        ],
    )
    _files(flow, step.files)
    flow.space(2)


def _files(flow: Flow, files: Sequence[FileRow]) -> None:
    for row in files:
        flow.table(
            (row.kind, "of", "sent", "by", "digest begins", "what was understood"),
            (2.8, 1.4, 2.7, 1.8, 2.6, 5.6),
            [
                FlowRow((
                    row.name, row.of, words.moment_on_paper(row.at), row.by, row.digest,
                    "  ".join(part for part in (row.understood, row.struck) if part),
                ), bool(row.struck)),
            ],
        )  # fmt: skip
        if row.picture:
            _picture(flow, row.picture)
        if row.photo:
            _photo(flow, row.photo)
        for number, page in enumerate(row.pages, start=1):
            flow.words(f"{row.name}, page {number}", pt=7, keeps=True)
            _page(flow, page)
        if row.whole_digest:
            flow.words(f"SHA-256 of {row.name}: {row.whole_digest}", pt=6.5)


def _photo(flow: Flow, photo: bytes) -> None:
    def draw(sheet: PaperSheet, top: float) -> None:
        sheet.picture(MARGIN_MM, top + 1, PHOTO_MM * 1.4, PHOTO_MM, photo, longest_px=PHOTO_PX)

    flow.blocks.append(Block(PHOTO_MM + 2, draw))


def _page(flow: Flow, page: bytes) -> None:
    flow.blocks.append(Block(PAGE_MM + 2, lambda sheet, top: sheet.jpeg(MARGIN_MM, top + 1, flow.width, PAGE_MM, page)))


def _picture(flow: Flow, picture: LogPicture) -> None:
    flow.blocks.append(
        Block(HEIGHT_MM, lambda sheet, top: draw_log(sheet, picture, MARGIN_MM, top, flow.width), keeps=False)
    )
