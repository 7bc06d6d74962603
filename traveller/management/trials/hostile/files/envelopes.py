"""What a phone's queue may be sent instead of an envelope: JSON that is deep, long or no JSON at all."""

from __future__ import annotations

import json
from random import Random

from traveller.management.trials.hostile.files.kinds import hostile, some


@hostile("json", ".json")
def json_deep_lists(rng: Random, scale: float) -> bytes:
    """Lists in lists, 900,000 deep."""
    deep = some(scale, 900_000, 2000)
    return b"[" * deep + b"]" * deep


@hostile("json", ".json")
def json_deep_objects(rng: Random, scale: float) -> bytes:
    """Objects in objects, 250,000 deep, in an entry's field."""
    deep = some(scale, 250_000, 2000)
    return b'{"site":1,"sent_at":1,"entries":[{"id":"a","fields":' + b'{"a":' * deep + b"1" + b"}" * deep + b"}]}"


@hostile("json", ".json")
def json_long_number(rng: Random, scale: float) -> bytes:
    """A site whose number has 1,900,000 digits."""
    return b'{"site":' + b"7" * some(scale, 1_900_000, 5000) + b',"sent_at":1,"entries":[]}'


@hostile("json", ".json")
def json_no_numbers(rng: Random, scale: float) -> bytes:
    """Numbers that are none, or far too large."""
    odd = ["NaN", "Infinity", "-Infinity", "1e400", "-1e308", "1e308", "-0.0", "1E+2147483647"]
    return f'{{"site":{rng.choice(odd)},"sent_at":{rng.choice(odd)},"entries":[]}}'.encode()


@hostile("json", ".json")
def json_many_entries(rng: Random, scale: float) -> bytes:
    """900,000 entries that are empty lists."""
    return b'{"site":1,"sent_at":1,"entries":[' + b"[]," * some(scale, 600_000) + b"[]]}"


@hostile("json", ".json")
def json_broken_letters(rng: Random, scale: float) -> bytes:
    """Halves of characters, NULs, and the same name again and again."""
    fields = [["\ud800", "\0"], ["a" * 200, "\udfff" * 4000]] * some(scale, 40)
    entry = {"id": "\ud800", "seq": 1, "at": 1, "path": "/here/\0", "person": "\udfff", "fields": fields}
    return json.dumps({"site": 1, "sent_at": 1, "entries": [entry]}).encode()


@hostile("json", ".json")
def json_other_letters(rng: Random, scale: float) -> bytes:
    """An envelope in UTF-16 cut in the middle of a letter."""
    return '{"site":1,"sent_at":1,"entries":[]}'.encode("utf-32")[:-3] + rng.randbytes(50)


@hostile("json", ".json")
def json_cut_off(rng: Random, scale: float) -> bytes:
    """An envelope that ends in the middle of a field."""
    return json.dumps({"site": 1, "sent_at": 1, "entries": [{"id": "a", "fields": [["good", "1" * 500]]}]}).encode()[
        :300
    ]
