"""Logs of temperature: cells, lines, quotes and figures without end, and times that no calendar has."""

from __future__ import annotations

from random import Random

from traveller.management.trials.hostile.files.kinds import hostile, some

HEAD = b"time,temperature C\n"
_ROW = b"2026-11-%02dT%02d:%02d:%02dZ,%d.%d\n"


def rows(rng: Random, count: int) -> bytes:
    """A reading a second, as a logger writes them."""
    lines = [
        _ROW % (1 + n // 86_400 % 28, n // 3600 % 24, n // 60 % 60, n % 60, 20 + rng.randrange(200), rng.randrange(10))
        for n in range(count)
    ]
    return HEAD + b"".join(lines)


@hostile("log", ".csv", known=True)
def log_commas(rng: Random, scale: float) -> bytes:
    """6,000,000 commas."""
    return b"," * some(scale, 6_000_000)


@hostile("log", ".csv", known=True)
def log_columns(rng: Random, scale: float) -> bytes:
    """Four lines of 200,000 columns."""
    columns = some(scale, 200_000)
    head = b"time," + b"c," * columns + b"c\n"
    return head + (b"2026-11-20T10:00:00Z," + b"20," * columns + b"20\n") * 3


@hostile("log", ".csv", known=True)
def log_nul(rng: Random, scale: float) -> bytes:
    """Readings with NULs behind the first page."""
    return rows(rng, some(scale, 100_000)) + b"\0" * 4096 + rows(rng, 100)


@hostile("log", ".csv", known=True)
def log_says_rows(rng: Random, scale: float) -> bytes:
    """A log that says it has 1,000,000,000 rows, and has ten."""
    return b"rows,1000000000\n" + rows(rng, 10)


@hostile("log", ".csv", known=True)
def log_endless_quote(rng: Random, scale: float) -> bytes:
    """A quote that is never closed, before 10 MB of readings."""
    return HEAD + b'"' + rows(rng, some(scale, 350_000))


@hostile("log", ".csv", known=True)
def log_digits(rng: Random, scale: float) -> bytes:
    """One reading of 20,000,000 digits."""
    return HEAD + b"2026-11-20T10:00:00Z," + b"7" * some(scale, 20_000_000) + b"\n2026-11-20T10:00:01Z,20\n"


@hostile("log", ".csv", known=True)
def log_950_000_rows(rng: Random, scale: float) -> bytes:
    """950,000 readings."""
    return rows(rng, some(scale, 950_000))


@hostile("log", ".csv", known=True)
def log_random_bytes(rng: Random, scale: float) -> bytes:
    """20 MB of random bytes."""
    return rng.randbytes(some(scale, 20_000_000))


@hostile("log", ".csv")
def log_short_lines(rng: Random, scale: float) -> bytes:
    """6,000,000 lines of three letters."""
    return HEAD + b"1,2\n" * some(scale, 6_000_000)


@hostile("log", ".csv")
def log_sixty_columns(rng: Random, scale: float) -> bytes:
    """120,000 readings of sixty channels, 24 MB: no more of each than a log may have."""
    head = b"time," + b",".join(b"channel %d C" % n for n in range(60)) + b"\n"
    lines = [
        b"2026-11-%02dT%02d:%02d:%02dZ" % (1 + n // 86_400, n // 3600 % 24, n // 60 % 60, n % 60) + b",20" * 60
        for n in range(some(scale, 120_000))
    ]
    return head + b"\n".join(lines) + b"\n"


@hostile("log", ".csv")
def log_quoted_cells(rng: Random, scale: float) -> bytes:
    """3,000,000 cells that each hold nothing but quotes."""
    return HEAD + b'"""""",""""\n' * some(scale, 1_500_000)


@hostile("log", ".csv")
def log_quote_over_lines(rng: Random, scale: float) -> bytes:
    """One cell in quotes over 10,000,000 lines."""
    return HEAD + b'"' + b"\n" * some(scale, 10_000_000) + b'",20\n'


@hostile("log", ".csv")
def log_long_numbers(rng: Random, scale: float) -> bytes:
    """Twenty readings of 1,000,000 digits each."""
    row = b"2026-11-20T10:00:%02dZ," + b"9" * some(scale, 1_000_000) + b".5\n"
    return HEAD + b"".join(row % second for second in range(20))


@hostile("log", ".csv")
def log_huge_powers(rng: Random, scale: float) -> bytes:
    """Readings of 1e999999999 and such."""
    words = [b"1e999999999", b"-1e999999999", b"nan", b"inf", b"1e-999999999", b"0x10", b"1_000", "٣٠".encode()]
    lines = [b"2026-11-20T10:00:%02dZ,%s\n" % (n % 60, rng.choice(words)) for n in range(some(scale, 2000, 20))]
    return HEAD + b"".join(lines)


@hostile("log", ".csv")
def log_every_year(rng: Random, scale: float) -> bytes:
    """A reading in each of the years 1 to 9999, and in 0 and 10000."""
    return HEAD + b"".join(b"%04d-01-01T00:00:00Z,20\n" % year for year in range(10_001))


@hostile("log", ".csv")
def log_beyond_calendars(rng: Random, scale: float) -> bytes:
    """Times that leave the calendar once their zone is taken into account."""
    times = [b"0001-01-01T00:00:00+23:59", b"9999-12-31T23:59:59-23:59", b"2026-02-30T25:61:61Z", b"2026-11-20T10:00Z"]
    return HEAD + b"".join(b"%s,20\n" % rng.choice(times) for _ in range(some(scale, 20_000, 40)))


@hostile("log", ".csv")
def log_utf16_halves(rng: Random, scale: float) -> bytes:
    """UTF-16 with halves of characters, cut in the middle of one."""
    text = rows(rng, some(scale, 200_000)).decode().encode("utf-16-le")
    return b"\xff\xfe" + text[:200] + b"\x00\xd8" * 1000 + text[200:] + b"\x31"


@hostile("log", ".csv")
def log_utf16_mark(rng: Random, scale: float) -> bytes:
    """Plain text behind the mark of UTF-16."""
    return b"\xfe\xff" + rows(rng, some(scale, 300_001))


@hostile("log", ".csv")
def log_shuffled(rng: Random, scale: float) -> bytes:
    """400,000 readings in no order, a fifth of them twice."""
    head, *lines = rows(rng, some(scale, 400_000)).splitlines(keepends=True)
    lines += rng.sample(lines, len(lines) // 5)
    rng.shuffle(lines)
    return head + b"".join(lines)


@hostile("log", ".csv")
def log_ragged(rng: Random, scale: float) -> bytes:
    """Lines of one to three hundred cells, changing from line to line."""
    return HEAD + b"".join(b"20," * rng.randrange(1, 300) + b"\n" for _ in range(some(scale, 40_000)))


@hostile("log", ".csv")
def log_blanks(rng: Random, scale: float) -> bytes:
    """Cells of a million blanks around each figure."""
    blank = b" " * some(scale, 1_000_000)
    return HEAD + b"".join(b"2026-11-20T10:00:%02dZ,%s20%s\n" % (n, blank, blank) for n in range(10))
