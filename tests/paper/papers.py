"""Papers of the invented lantern maker, as the tests print them."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date

from PIL import Image, ImageDraw

from traveller.paper.traveller import Traveller, TravellerStep, WritingBox
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
            WritingBox("dryer"), WritingBox("in at"), WritingBox("out at"), WritingBox("moisture", "%"),
            WritingBox("resin in", "kg"), WritingBox("dew point", "°C"), WritingBox("actual temperature", "°C", 2),
        ),  # fmt: skip
        counts_pieces=False,
        caution="hot hopper and hoses; resin dust is slippery under foot.",
    ),
    TravellerStep(
        number=20,
        site="Halden Mouldings",
        verb="Mould",
        limits=("two cavities; shots counted", "bore 24.00 ± 0.127 mm after settling"),
        show_first="first-off approved, every cavity measured",
        boxes=(WritingBox("shots from"), WritingBox("shots to"), WritingBox("bore, cavity 1", "mm"),
               WritingBox("bore, cavity 2", "mm")),
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
        limits=("each piece that arrived, 0.3 bar, 10 s", "known-leak master checked, start and end of shift"),
        show_first="tested = arrived; the master failed as it must",
        boxes=(WritingBox("tested"), WritingBox("leaks at"), WritingBox("master, start"), WritingBox("master, end")),
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
    GLOBE, steps=tuple(replace(GLOBE_STEPS[n % 5], number=10 * (n + 1)) for n in range(12)), holds=("H-12 wet resin",)
)
