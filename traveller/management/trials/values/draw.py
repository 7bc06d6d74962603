"""Values that nobody means: what is drawn into fields, addresses, headers and files."""

from __future__ import annotations

import io
import json
import random
import zipfile
from collections.abc import Callable
from dataclasses import dataclass

from PIL import Image

__all__ = ["Draw", "Sent"]

# Each stands for a kind of fault that programs have had with it.
_NUMBERS = (
    "0", "-0", "-1", "1", "007", "2147483647", "2147483648", "-2147483649", "9223372036854775807",
    "9223372036854775808", "-9223372036854775809", "1" + "0" * 400, "-1" + "0" * 400, "9" * 5000,
    "0." + "0" * 400 + "1",
    "1e308", "1e309", "-1e999", "1E+400", "1e-400", "0x10", "1_000", "1,000", "1.000", "1.5", "0.1",
    "1.0000000000000001", "NaN", "-nan", "inf", "-Infinity", "٣", "²", "½", "１２", "1 000", "+5", "--5", "5-",
    "1/3", "1;2", "0,5", "ⅷ", "𝟙",
)  # fmt: skip
TEXTS = (
    "", " ", "\t", "\r\n", "\0", "a\0b", "\ud800", "x\udfff", "\ufeff", "\u202e123", "\u2066\u2067", "e\u0301" * 40,
    "Z\u0335\u0321\u0489" * 30, "العربية", "שלום", "张伟", "Ngô Thị Hằng", "🏮" * 60, "👨‍👩‍👧‍👦", "\x1b[31m",
    "\x7f\x80\x9f", "'", '"', "' OR 1=1 --", "<script>alert(1)</script>", "{{ 7*7 }}", "{% load x %}", "${7*7}",
    "%s%n%d", "%00", "%",
    "../../../etc/passwd", "file:///etc/passwd", "\\\\server\\share", "null", "None", "undefined", "true", "[]", "{}",
    "=1+1", "@x", "a" * 256, "ß" * 300, "ﬃ", "İ", "ı", "ſ", "\u0345", "\u00ad", "\u200b\u200d", "\U0010ffff", "\uffff",
)  # fmt: skip
MOMENTS = (
    "0001-01-01T00:00+23:59", "0001-01-01T00:00Z", "0001-01-01", "9999-12-31T23:59-23:59", "9999-12-31T23:59:59.999999",
    "1969-12-31T23:59", "2026-02-30", "2026-13-01", "2024-02-29", "2026-11-29T25:00", "2026-11-29T12:00:60", "2026-W48",
    "2026-11-29T12:00+24:00", "2026-11-29T12:00+23:59:59.999", "2026-03-29T02:30", "2026-11-01T01:30", "10000-01-01",
    "-001-01-01", "20261129T1200", "12:00", "00:00", "24:00", "2026-11-29 12:00",
    "1999-12-31T23:59", "2000-01-01T00:00", "2038-01-19T03:14:08", "٢٠٢٦-١١-٢٩",
    "2026-11-29T12:00Z[Europe/London]", "2026-333",
)  # fmt: skip
IDS = (
    "00000000-0000-0000-0000-000000000000", "ffffffff-ffff-ffff-ffff-ffffffffffff",
    "{12345678-1234-5678-1234-567812345678}", "urn:uuid:12345678-1234-5678-1234-567812345678",
    "12345678123456781234567812345678", "not-an-id",
    "7K3QX2B", "0", "-1",
)  # fmt: skip
CHARSETS = (
    "utf-8", "UTF-8", "utf-7", "utf-16", "utf-32", "latin-1", "hex", "undefined", "rot13", "idna", "nonsense", "", '"',
)  # fmt: skip
_KINDS = (
    "application/x-www-form-urlencoded", "multipart/form-data", "multipart/form-data; boundary=x", "application/json",
    "text/plain", "application/xml", "application/octet-stream", "image/jpeg", "", "x",
    "multipart/form-data; boundary=", 'multipart/form-data; boundary="', "multipart/mixed; boundary=x",
    "application/json; charset", "/", ";",
    "a/b;c*=d''%ff",
)  # fmt: skip
HTTP_METHODS = (
    "GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT", "PROPFIND", "get", "FOO",
)  # fmt: skip
# Only what a server lets through: a length that is no number, or a NUL in a header, never reaches the program.
HEADERS: dict[str, tuple[str, ...]] = {
    "Accept": ("*/*", "application/json", "text/html;q=x", ",,,;;;", "application/json" * 500, "\xff", ""),
    "Accept-Language": ("ar", "zz-ZZ", "en;q=1e400", "*", "a-" * 300, "en" + ",en" * 5000, ";q=;", "zh-hans-cn",
                        ""),
    "Accept-Encoding": ("gzip", "br;q=nan", "gzip" * 100),
    "Range": ("bytes=0-0", "bytes=-1", "bytes=99999999999999999999-", "bytes=5-1", "bytes=a-b", "lines=1-2",
              "bytes=" + "0-1," * 500),
    "If-None-Match": ("*", '"x"', 'W/"', '"' * 999, "\x80", '"1.abc"', '"99999999999999999999.x"'),
    "If-Modified-Since": ("Thu, 01 Jan 0001 00:00:00 GMT", "now", "Sun, 29 Nov 10000 00:00:00 GMT"),
    "If-Range": ("x", '"y"'),
    "Origin": ("null", "https://elsewhere.example", "http://localhost", "x", "http://[", "http://\u0131"),
    "Referer": ("http://localhost/pass/X", "http://[", "https://elsewhere.example/", "http://localhost:99999/"),
    "X-Forwarded-For": ("1.2.3.4", "::1", "x" * 5000, ",,,", "999.1.1.1"),
    "X-Forwarded-Proto": ("https", "http,https"),
    "X-Requested-With": ("XMLHttpRequest",),
    "X-Kept": ("a,b,c", "," * 3000, "ways"),
    "X-Queue": ("1", "0", ""),
    "X-CSRFToken": ("", "x", "a" * 32, "\xff" * 64),
    "Content-Encoding": ("gzip", "br"),
    "Transfer-Encoding": ("chunked",),
    "Expect": ("100-continue",),
    "Host": ("localhost", "localhost:x", "127.0.0.1:99999", "elsewhere.example", "[::1]", "[::1", "", "a..b",
             "ｌｏｃａｌｈｏｓｔ"),
    "Content-Length": ("0", "1", "4000000000"),
    "User-Agent": ("", "x" * 9000, "\xff\xfe"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sent:
    """A file as a form sends it."""

    name: str
    content: bytes
    kind: str = "application/octet-stream"


class Draw:
    """Everything random of one run, from one seed."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def chance(self, share: float) -> bool:
        return self.random.random() < share

    def one(self, *of: str) -> str:
        return self.random.choice(of)

    def value(self, right: str = "", wants: str = "") -> str:
        """Some text where `right` would have been right: that changed a little, or something else altogether.

        Where a moment or a number is wanted, an odd one is drawn in half of all cases.
        """
        if wants and self.chance(0.5):
            return self.random.choice(MOMENTS if wants == "moment" else _NUMBERS)
        makers: tuple[Callable[[], str], ...] = (
            lambda: self.random.choice(_NUMBERS),
            lambda: self.random.choice(_NUMBERS),
            lambda: self.random.choice(TEXTS),
            lambda: self.random.choice(TEXTS),
            lambda: self.random.choice(MOMENTS),
            lambda: self.random.choice(IDS),
            lambda: self.changed(right),
            lambda: self.changed(right),
            self.letters,
            lambda: self.long() if self.chance(0.2) else self.letters(),
        )
        return self.random.choice(makers)()

    def changed(self, right: str) -> str:
        """The right value with one thing wrong."""
        at = self.random.randint(0, len(right))
        pieces = ("\0", "\ud83d", " ", "-", "0", "9" * 20, ".", "\u0301", "\u202e", "Ǆ", "'", "%", "\n")
        ways = (
            right[:at] + self.random.choice(pieces) + right[at:],
            right[:at] + right[at + 1 :],
            right * 2,
            right[::-1],
            right.swapcase(),
            f" {right} ",
            f"-{right}",
            right + "0" * 18,
        )
        return self.random.choice(ways)

    def letters(self) -> str:
        """Some characters from anywhere in Unicode, halves of characters included."""
        planes = (0x7F, 0x7F, 0x24F, 0x2FFF, 0xFFFF, 0x10FFFF)
        return "".join(
            chr(self.random.randint(0, self.random.choice(planes))) for _ in range(self.random.randint(1, 12))
        )

    def long(self) -> str:
        """Up to a million characters."""
        return self.random.choice(("a", "9", "é", "\u0301", "[", "<", ",", "\0")) * self.random.choice(
            (300, 5000, 70_000, 10**6)
        )

    def whole(self, least: int = 0, most: int = 200) -> str:
        return str(self.random.randint(least, max(least, most)))

    def uid(self) -> str:
        digits = f"{self.random.getrandbits(128):032x}"
        return f"{digits[:8]}-{digits[8:12]}-4{digits[13:16]}-8{digits[17:20]}-{digits[20:]}"

    def headers(self) -> dict[str, str]:
        """A few headers that say odd things."""
        names = self.random.sample(sorted(HEADERS), self.random.randint(1, 3))
        return {name: self.random.choice(HEADERS[name]) for name in names}

    def content_type(self) -> str:
        kind = self.random.choice(_KINDS)
        return f"{kind}; charset={self.random.choice(CHARSETS)}" if self.chance(0.5) else kind

    def json(self) -> bytes:
        """Something that calls itself JSON."""
        made: tuple[Callable[[], bytes], ...] = (
            lambda: b"[" * 10_000 + b"]" * 10_000,
            lambda: b'{"a":' * 10_000 + b"1" + b"}" * 10_000,
            lambda: json.dumps({"site": self.value(), "sent_at": self.value(), "entries": [self.value()]}).encode(),
            lambda: b'{"site": NaN, "entries": []}',
            lambda: b'{"site": 1' + b"0" * 5000 + b', "sent_at": 1, "entries": []}',
            lambda: b"\xff\xfe{\x00}\x00",
            lambda: b"\xed\xa0\x80",
            lambda: b'"\\ud800"',
            lambda: b"",
            lambda: b"null",
        )
        return self.random.choice(made)()

    def file(self, accept: str = "") -> Sent:
        """A file: the right one, that with a few bytes changed, or none of its kind at all."""
        right = self._right_file(accept)
        if self.chance(0.4):
            return right
        content = bytearray(right.content)
        for _ in range(self.random.randint(1, 8)):
            if content:
                content[self.random.randrange(len(content))] = self.random.randrange(256)
        odd = (
            bytes(content),
            bytes(content[: len(content) // 2]),
            b"",
            self.random.randbytes(300),
            b"\0" * 5000,
            b"a,b\n",
        )
        name = self.random.choice(
            (right.name, "", "x" * 300, "a\0b.csv", "../../x", "photo", "\ud800.png", "x.svg", 'a"b.jpg')
        )
        return Sent(
            name, self.random.choice(odd), self.random.choice((right.kind, "", "text/html", "a/b; charset=hex"))
        )

    def _right_file(self, accept: str) -> Sent:
        if "csv" in accept or "text" in accept or self.chance(0.3):
            return Sent("oven.csv", self._log(), "text/csv")
        if "sheet" in accept or "zip" in accept:
            return Sent("book.zip", _zip(), "application/zip")
        out = io.BytesIO()
        kind = self.one("PNG", "JPEG")
        side = self.random.randint(1, 40)
        Image.new("RGB", (side, side), (self.random.randrange(256), 90, 40)).save(out, kind)
        return Sent(f"photo.{kind.lower()}", out.getvalue(), f"image/{kind.lower()}")

    def _log(self) -> bytes:
        """A temperature log of a few hours, with something odd in one of its rows."""
        rows = [f"2026-11-{day:02} {hour:02}:00:00,{60 + hour}.5" for day in (27, 28) for hour in range(24)]
        if self.chance(0.5):
            rows[self.random.randrange(len(rows))] = f"{self.random.choice(MOMENTS)},{self.random.choice(_NUMBERS)}"
        return ("time,temperature C\n" + "\n".join(rows)).encode("utf-8", "surrogatepass")


def _zip() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("sites.csv", "site,name,kind,timezone\nbench,Own bench,own,Europe/London\n")
    return out.getvalue()
