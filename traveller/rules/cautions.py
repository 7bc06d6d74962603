"""What can hurt somebody here? The usual cautions for each class of operation, in our own words.

They remind people of what they were trained for. They are no instruction, claim no compliance and replace
neither the shop's own procedures nor local codes nor licensed practice; each set ends by saying so. Where
the text goes into another language, a translator who knows the trade must review it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

__all__ = ["CAUTIONS", "CLASSES", "DEFERENCE", "LICENCE_NOTE", "OperationClass"]

OperationClass = Literal[
    "drying",
    "moulding",
    "cooling",
    "fitting",
    "deburring",
    "leak_test",
    "mixing",
    "extruding",
    "curing",
    "printing",
    "baking",
    "assembly",
    "packing",
    "other",
]
CLASSES: tuple[OperationClass, ...] = get_args(OperationClass)

DEFERENCE = "These are reminders only: follow your shop's own procedures, your local codes and licensed practice."

LICENCE_NOTE = (
    "Some of this work may need a licence, a permit or an inspection where you are: electrical and gas work, "
    "pressure vessels and steam, ovens, storing solvents and peroxides, discharge from extraction, "
    "waste ink, lifting gear, and tests of product safety. Ask the authority that decides there. "
    "These pages and papers claim no compliance."
)

_BY_CLASS: Mapping[OperationClass, tuple[str, ...]] = {
    "drying": (
        "Dryer, hopper and hoses are hot: let them cool or wear gloves made for heat.",
        "Pellet dust irritates and can burn: keep it down. Sweep up spilled pellets: people slip on them.",
    ),
    "moulding": (
        "Never reach past an open or defeated gate: the interlocks must work before the first shot.",
        "Keep hands and tools out of the feed throat while the screw can turn.",
        "Purging can spit melt and give off fume: shield, face cover, extraction, and nobody in line.",
        "Barrel and nozzle burn; a leak of high-pressure oil can pierce the skin.",
        "Lock out all energy before anyone works in the mould or on the machine.",
    ),
    "cooling": (
        "Parts come out hot: wear gloves made for heat.",
        "Fixture and pins can trap fingers: keep them clear when a part is pressed on or pulled off.",
    ),
    "fitting": (
        "A press or hand tool can slip or pinch: hold the part in its nest, not in the hand.",
        "Cracked plastic is sharp and can fly: protect the eyes.",
    ),
    "deburring": (
        "Blades and edges cut: cut away from the hand and change dull blades.",
        "Chips and dust: protect the eyes, and extract where the dust hangs in the air.",
    ),
    "leak_test": (
        "Trapped pressure can burst a rigid part: shield it, and let the pressure off before opening.",
        "Wet floors are slippery, and water and electrical gear must be kept apart.",
    ),
    "mixing": (
        "The nip between the rolls pulls in hands, hair and clothing within a moment.",
        "Test the trip bars, front and back, at the start of each shift, and do not run without them.",
        "Powders and hot rubber give off dust and fume: the extraction must run.",
    ),
    "extruding": (
        "Head and die are hot, and trapped pressure can throw hot rubber: stay out of the line of the die.",
        "Cutters and haul-off pull in fingers: guards on, stop before clearing.",
    ),
    "curing": (
        "Platens and moulds burn through thin gloves: wear gloves made for heat.",
        "A closing press crushes: two-hand control and guards must work, and no second person reaches in.",
        "Heavy moulds and plates drop: lift with gear that is made and inspected for it.",
        "Fume comes off the press and also off the racks where parts cool: the extraction must cover both.",
    ),
    "printing": (
        "Two-component inks can contain isocyanates, which can cause asthma and skin allergy: extraction, "
        "nitrile gloves, eye protection, and health surveillance where it is called for.",
        "Solvents burn, and their vapour travels: no flame or spark, closed containers, good air.",
        "Pads, plates and doctor blades pinch and cut.",
    ),
    "baking": (
        "Racks and parts are hot: wear gloves made for heat.",
        "Solvent vapour in an oven can ignite: the authority having jurisdiction decides on ventilation.",
        "Stay below the temperature at which the part distorts or gives off fume.",
    ),
    "assembly": (
        "Powered drivers and presses pinch and twist: hold the part in its nest and keep sleeves clear.",
        "Adhesives and cleaners: read the label and its safety sheet before opening.",
    ),
    "packing": (
        "Knives and strapping cut: blade away from the body, and cut strapping from the side.",
        "Heavy cartons: lift with the legs, with two people, or with gear.",
    ),
    "other": ("Look for what is hot, sharp, moving, under pressure or giving off fume before you start.",),
}

CAUTIONS: Mapping[str, tuple[str, ...]] = {name: (*_BY_CLASS[name], DEFERENCE) for name in CLASSES}
