"""Zips where a workbook is expected: nested, overlapping, lying, endless; and CSV files in them or alone."""

from __future__ import annotations

import struct
import zipfile
from random import Random

from traveller.management.trials.hostile.files.kinds import hostile, some
from traveller.management.trials.hostile.files.zip_writing import Member, by_hand, text, zeros, zipped


@hostile("workbook", ".zip", known=True)
def zip_bomb(rng: Random, scale: float) -> bytes:
    """A zip whose only sheet unpacks to 4 GB."""
    return by_hand([zeros("parts.csv", some(scale, 4_000_000_000))])


@hostile("workbook", ".zip")
def zip_in_zip(rng: Random, scale: float) -> bytes:
    """Zips in zips, five deep, ten in each; the innermost unpack to 100 MB."""
    inner = by_hand([zeros("parts.csv", some(scale, 100_000_000))])
    for _ in range(5):
        inner = zipped([(f"workbook-{number}.zip", inner) for number in range(10)])
    return inner


@hostile("workbook", ".zip")
def zip_overlapping(rng: Random, scale: float) -> bytes:
    """400 members which are all the same 80 MB."""
    one = zeros("parts.csv", some(scale, 80_000_000))
    return by_hand([Member(b"part%d.csv" % n, one.packed, one.size, one.check) for n in range(400)], overlapping=True)


@hostile("workbook", ".zip")
def zip_thousands_of_names(rng: Random, scale: float) -> bytes:
    """180,000 empty members."""
    return by_hand([Member(b"%d.csv" % number, b"\3\0", 0) for number in range(some(scale, 180_000))])


@hostile("workbook", ".zip")
def zip_out_of_its_folder(rng: Random, scale: float) -> bytes:
    """Members whose names lead out of the folder, to the root or to a device."""
    names = ("../../../../tmp/traveller-trial-wrote-this.csv", "/tmp/traveller-trial-wrote-this", "C:\\parts.csv",
             "..\\..\\parts.csv", "parts.csv/../../x", "\0parts.csv", "CON", "a/" * 2000 + "parts.csv")  # fmt: skip
    return by_hand([Member(name.encode(), b"\3\0", 9) for name in names])


@hostile("workbook", ".zip")
def zip_lies(rng: Random, scale: float) -> bytes:
    """A member said to be 10 bytes, which unpacks to 3 GB."""
    bomb = zeros("parts.csv", some(scale, 3_000_000_000))
    return by_hand([Member(bomb.name, bomb.packed, 10, bomb.check)])


@hostile("workbook", ".zip")
def zip64_lies(rng: Random, scale: float) -> bytes:
    """A zip that says in 64 bits where its directory is: far outside."""
    whole = zipped([("parts.csv", b"part,name\n")])
    end = whole.rindex(b"PK\5\6")
    far = struct.pack("<4sQHHIIQQQQ", b"PK\6\6", 44, 45, 45, 0, 0, 2**62, 2**62, 2**62, 2**63 - 1)
    locator = struct.pack("<4sIQI", b"PK\6\7", 0, end, 1)
    return whole[:end] + far + locator + struct.pack("<4s4H2IH", b"PK\5\6", 0, 0, *[0xFFFF] * 2, *[2**32 - 1] * 2, 0)


@hostile("workbook", ".zip")
def zip_cut_off(rng: Random, scale: float) -> bytes:
    """A zip that ends in the middle of a sheet."""
    whole = zipped([("parts.csv", rng.randbytes(5000))], zipfile.ZIP_STORED)
    return whole[: rng.randrange(100, 4000)]


@hostile("workbook", ".zip")
def zip_bad_check(rng: Random, scale: float) -> bytes:
    """A zip whose sheet is not what its check sum says."""
    return by_hand([Member(b"parts.csv", b"\3\0", 0, check=rng.randrange(1, 2**32))])


@hostile("workbook", ".zip")
def zip_million_cells(rng: Random, scale: float) -> bytes:
    """A sheet of 1,100,000 rows that each say the same, 78 MB in 0.2 MB."""
    row = b"LANTERN-X,,,,,,,,,,,,,,a part that is not there,,,,,,,,,,,,,,,,,,,,,,\n"
    return by_hand([text("parts.csv", b"part,name,kind\n", row, some(scale, 1_100_000), b"")])


@hostile("workbook", ".csv")
def csv_one_line(rng: Random, scale: float) -> bytes:
    """A CSV file of one line of 19 MB."""
    return b"part,name\n" + b"x" * some(scale, 19_000_000)


@hostile("workbook", ".csv")
def csv_quotes(rng: Random, scale: float) -> bytes:
    """A CSV file of 9,000,000 quotes."""
    return b"part,name\n" + b'""' * some(scale, 9_000_000)


@hostile("workbook", ".csv")
def csv_many_cells(rng: Random, scale: float) -> bytes:
    """A CSV file of one row of 19,000,000 cells."""
    return b"part,name\n" + b"," * some(scale, 19_000_000)


@hostile("workbook", ".csv")
def csv_short_rows(rng: Random, scale: float) -> bytes:
    """A CSV file of 4,800,000 rows of two letters."""
    return b"part,name\n" + b"a,b\n" * some(scale, 4_800_000)


@hostile("workbook", ".csv")
def csv_not_letters(rng: Random, scale: float) -> bytes:
    """A CSV file of bytes that are no letters in any code."""
    return b"part,name\n" + bytes(rng.choice((0x81, 0x8D, 0x90, 0xFF)) for _ in range(some(scale, 20_000)))
