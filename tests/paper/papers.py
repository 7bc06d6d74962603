"""Papers of the invented lantern maker, as the tests print them."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

from PIL import Image, ImageDraw

from traveller.paper.dispatch_note import DispatchLine, DispatchNote
from traveller.paper.letterhead import Party
from traveller.paper.marks import status_on_paper
from traveller.paper.packing_list import PackingLine, PackingList
from traveller.paper.pass_card import PassCard
from traveller.paper.tote_label import ToteLabel
from traveller.paper.traveller_facts import Traveller, TravellerStep
from traveller.paper.writing_box import WritingBox
from traveller.rules.codes import from_number

ADDRESS = "https://t.lantern.example"
CODE = from_number(87_654_321)


def globe_picture() -> bytes:
    """A drawn globe, as a PNG."""
    picture = Image.new("RGB", (300, 300), "white")
    pen = ImageDraw.Draw(picture)
    pen.ellipse((50, 40, 250, 240), fill="#e8a33d", outline="#16191d", width=5)
    pen.rectangle((110, 232, 190, 270), fill="#d8d8d0", outline="#16191d", width=5)
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


GLOBE_STEPS = (
    TravellerStep(
        number=10,
        site="Halden Mouldings",
        verb="Dry the resin",
        limits=("120 °C, 4 h or more", "moisture 0.02 % or less"),
        show_first="drying times and moisture reading",
        boxes=(
            WritingBox("dryer"),
            WritingBox("in at"),
            WritingBox("out at"),
            WritingBox("moisture", "%"),
            WritingBox("resin in", "kg"),
            WritingBox("dew point", "°C"),
            WritingBox("actual temperature", "°C", 2),
        ),
        counts_pieces=False,
        caution="hot hopper and hoses; resin dust is slippery under foot.",
    ),
    TravellerStep(
        number=20,
        site="Halden Mouldings",
        verb="Mould",
        limits=("two cavities; shots counted", "bore 24.00 ± 0.127 mm after settling"),
        show_first="first-off approved, every cavity measured",
        boxes=(
            WritingBox("shots from"),
            WritingBox("shots to"),
            WritingBox("bore, cavity 1", "mm"),
            WritingBox("bore, cavity 2", "mm"),
        ),
        caution="hot barrel, nozzle and parts; purge splatters; keep guards and interlocks closed.",
    ),
    TravellerStep(
        number=30,
        site="Halden Mouldings",
        verb="Cool on the fixture, pin in",
        limits=("15 min or more before the pin is drawn",),
        show_first="on and off times of each load",
        boxes=(WritingBox("fixture"), WritingBox("on at"), WritingBox("off at"), WritingBox("loads")),
        caution="hot parts; fingers between pin and fixture.",
    ),
    TravellerStep(
        number=40,
        site="Halden Mouldings",
        verb="Fit insert, deburr",
        limits=("insert seated flush", "no sharp edge"),
        boxes=(WritingBox("insert lot", "", 2), WritingBox("cracked"), WritingBox("depth", "mm")),
        caution="blades: cut away from the hand; eye protection.",
    ),
    TravellerStep(
        number=50,
        site="Halden Mouldings",
        verb="Water test, every piece",
        limits=(
            "each piece that arrived, 0.3 bar, 10 s",
            "known-leak master checked, start and end of shift",
        ),
        show_first="tested = arrived; the master failed as it must",
        boxes=(
            WritingBox("tested"),
            WritingBox("leaks at"),
            WritingBox("master, start"),
            WritingBox("master, end"),
        ),
        caution="trapped pressure: release it before opening the cap.",
    ),
)

GLOBE = Traveller(
    code=CODE,
    public_address=ADDRESS,
    maker="Lantern Field Co.",
    print_number=2,
    product="Globe",
    variant="amber",
    colour="amber",
    swatch_hex="#e8a33d",
    picture=globe_picture(),
    revision="C",
    orders=("1042", "1047"),
    due=date(2026, 11, 17),
    destination="Own bench",
    start=1088,
    wanted=1006,
    shots=544,
    tool="G-2",
    cavities_open=2,
    cavities=2,
    material="PC amber",
    material_lot="R-5521",
    material_owner="Lantern Field Co.",
    call_if_found="Mara Field, +44 1632 960 041",
    steps=GLOBE_STEPS,
    then="send to Own bench, counted by weight with a 50-piece sample.",
)

LONG_ROUTE = replace(
    GLOBE,
    steps=tuple(replace(GLOBE_STEPS[n % 5], number=10 * (n + 1)) for n in range(12)),
    holds=("H-12 wet resin",),
)

MAKER = Party("Lantern Field Co.", ("4 Orchard Row", "Ashby"), "+44 1632 960 041")
HALDEN = Party("Halden Mouldings", ("Unit 7, Quarry Lane", "Halden"), "+44 1632 960 077")

TOTE = ToteLabel(
    code=CODE,
    public_address=ADDRESS,
    maker=MAKER.name,
    part="Globe",
    variant="amber",
    swatch_hex="#e8a33d",
    picture=globe_picture(),
    lot="2KJ-ZXH-7",
    quantity=1_034,
    how_counted="by weight, 50-piece sample",
    tote=2,
    totes=3,
    status=status_on_paper("free", "consume"),
    next_operation="Assemble",
    next_site="Own bench",
    labelled_on=date(2026, 11, 12),
    expires_on=None,
    gross_weight="14.2 kg",
)

NOTE = DispatchNote(
    number="D-2048",
    code=from_number(5_555),
    public_address=ADDRESS,
    sender=HALDEN,
    receiver=MAKER,
    sent_at=datetime(2026, 11, 12, 14, 5, tzinfo=UTC),
    carrier="Field & Daughters",
    purpose="processing",
    lines=(
        DispatchLine(
            tote="1",
            lot="2KJ-ZXH-7",
            what="Globe, amber",
            quantity=1_234,
            unit="pieces",
            how_counted="by weight",
            property_of=MAKER.name,
        ),
        DispatchLine(
            tote="2",
            lot="2KJ-ZXH-7",
            what="Globe, amber",
            quantity=5_678,
            unit="pieces",
            how_counted="by weight",
            property_of=MAKER.name,
        ),
        DispatchLine(
            tote="3",
            lot="R-5521",
            what="PC amber, unused resin going back to its owner",
            quantity=Decimal("98.75"),
            unit="kg",
            how_counted="on the floor scale",
            property_of=MAKER.name,
        ),
    ),
    returnables="grey totes, lids",
)

PACKED = PackingList(
    carton_code="C000417",
    carton=2,
    cartons=5,
    order="1042",
    customers_reference="PO 77-A",
    sender=MAKER,
    receiver=Party("Northlight Outfitters", ("18 Harbour Street", "Port Ness")),
    packed_on=date(2026, 11, 20),
    lines=(
        PackingLine(
            line="1",
            product="Camp lantern",
            variant="amber",
            ordered=1_000,
            shipped=24,
            to_follow=952,
            lots=("2KJ-ZXH-7", "41M-0R2-Q"),
        ),
        PackingLine(
            line="2",
            product="Camp lantern",
            variant="red",
            ordered=12,
            shipped=12,
            to_follow=0,
            lots=("7XA-110-4",),
        ),
    ),
    net_weight="9.1 kg",
    gross_weight="10.4 kg",
    packer="Ines",
)

CARD = PassCard(
    site="Halden Mouldings",
    maker=MAKER.name,
    link="https://t.lantern.example/pass/8fK2mQ7rT0vXbZ4cLpN6sW1y",
    call="Mara Field, +44 1632 960 041",
)
