"""Forms with files as no browser writes them: parts without end, or without an end.

The first line is the content type, the rest is the body.
"""

from __future__ import annotations

from random import Random

from traveller.management.trials.hostile.files.kinds import hostile, some

_LINE = b"\r\n"


def form(boundary: bytes, *pieces: bytes, closed: bool = True) -> bytes:
    head = b"multipart/form-data; boundary=" + boundary + b"\n"
    body = b"".join(b"--" + boundary + _LINE + piece + _LINE for piece in pieces)
    return head + body + (b"--" + boundary + b"--" + _LINE if closed else b"")


def _field(name: bytes, value: bytes, more: bytes = b"") -> bytes:
    return b'Content-Disposition: form-data; name="' + name + b'"' + more + _LINE * 2 + value


def file(name: bytes, value: bytes, more: bytes = b"") -> bytes:
    return _field(b"file", value, b'; filename="' + name + b'"' + more)


@hostile("form", ".form")
def form_thousands_of_parts(rng: Random, scale: float) -> bytes:
    """A form of 60,000 fields."""
    return form(b"x", *[_field(b"a%d" % n, b"1") for n in range(some(scale, 60_000, 6000))])


@hostile("form", ".form")
def form_thousands_of_files(rng: Random, scale: float) -> bytes:
    """A form of 60,000 empty files."""
    return form(b"x", *[file(b"a", b"") for _ in range(some(scale, 60_000, 200))])


@hostile("form", ".form")
def form_empty_parts(rng: Random, scale: float) -> bytes:
    """A form of 2,000,000 marks between parts, with nothing between them."""
    return b"multipart/form-data; boundary=x\n" + b"--x\r\n" * some(scale, 2_000_000)


@hostile("form", ".form")
def form_never_closed(rng: Random, scale: float) -> bytes:
    """A form that ends in the middle of a file."""
    return form(b"x", file(b"a.png", rng.randbytes(some(scale, 1_000_000))), closed=False)


@hostile("form", ".form")
def form_near_boundaries(rng: Random, scale: float) -> bytes:
    """A file that is made of what is nearly the mark between parts."""
    return form(b"y" * 70, file(b"a.png", (b"\r\n--" + b"y" * 69) * some(scale, 250_000)))


@hostile("form", ".form")
def form_vast_head(rng: Random, scale: float) -> bytes:
    """A part with 200,000 lines of head."""
    return form(b"x", b"X-A: b\r\n" * some(scale, 200_000) + file(b"a.png", b"1"))


@hostile("form", ".form")
def form_vast_name(rng: Random, scale: float) -> bytes:
    """A file whose name is 2 MB of dots and slashes."""
    return form(b"x", file(b"../" * some(scale, 700_000) + b"a.png", b"1"))


@hostile("form", ".form")
def form_odd_names(rng: Random, scale: float) -> bytes:
    """Files called NUL, nothing, a device, and in characters of many lengths."""
    names = [b"\0", b"", b"/dev/zero", b"a\r\nb", b"\xff\xfe", "漢字".encode() * 200, b'"; name="photo', b"%00"]
    return form(b"x", *[file(name, b"1") for name in names])


@hostile("form", ".form")
def form_false_base64(rng: Random, scale: float) -> bytes:
    """A file said to be in base 64, which is not."""
    return form(b"x", file(b"a.png", b"A" * 70_001 + b"!" * 70_000, _LINE + b"Content-Transfer-Encoding: base64"))


@hostile("form", ".form")
def form_without_boundary(rng: Random, scale: float) -> bytes:
    """A form that does not say what parts it."""
    return b"multipart/form-data\n" + b"--x\r\n" * 10


@hostile("form", ".form")
def form_odd_charset(rng: Random, scale: float) -> bytes:
    """A form in a code of letters that is none."""
    codes = (b"utf-7", b"utf-32", b"base64", b"rot13", b"punycode", b"no-such-code")
    return (
        b"multipart/form-data; boundary=x; charset="
        + rng.choice(codes)
        + b"\n--x\r\n"
        + _field(b"a", b"1")
        + b"\r\n--x--\r\n"
    )
