"""The few objects that a PDF needs, written by hand: none of them has to make sense."""

from __future__ import annotations

import zlib
from collections.abc import Sequence

BOX = b"/MediaBox [0 0 1000 1500]"


def pdf_stream(body: bytes, more: bytes = b"", *, packed: bool = False) -> bytes:
    """A stream object; `more` of its dictionary."""
    if packed:
        body, more = zlib.compress(body, 6), more + b" /Filter /FlateDecode"
    return b"<< /Length %d %s >>\nstream\n" % (len(body), more) + body + b"\nendstream"


def pdf_file(objects: Sequence[bytes], trailer: bytes = b"") -> bytes:
    """A file of these objects, numbered from 1; the first is the catalogue."""
    out, places = bytearray(b"%PDF-1.7\n"), []
    for number, body in enumerate(objects, start=1):
        places.append(len(out))
        out += b"%d 0 obj\n" % number + body + b"\nendobj\n"
    start = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    out += b"".join(b"%010d 00000 n \n" % place for place in places)
    out += b"trailer\n<< /Size %d /Root 1 0 R %s >>\nstartxref\n%d\n%%%%EOF\n" % (len(objects) + 1, trailer, start)
    return bytes(out)


def one_page(
    content: bytes, resources: bytes = b"", more: Sequence[bytes] = (), *, page: bytes = b"", catalogue: bytes = b"",
    box: bytes = BOX, packed: bool = True,
) -> bytes:  # fmt: skip
    """A PDF of one page that draws `content`; `more` are objects from number 5 on."""
    return pdf_file(
        [
            b"<< /Type /Catalog /Pages 2 0 R %s >>" % catalogue,
            b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
            b"<< /Type /Page /Parent 2 0 R %s /Contents 4 0 R /Resources << %s >> %s >>" % (box, resources, page),
            pdf_stream(content, packed=packed),
            *more,
        ]
    )


def form(content: bytes, resources: bytes = b"", more: bytes = b"") -> bytes:
    """A drawing that a page or another drawing may use."""
    head = b"/Type /XObject /Subtype /Form /BBox [0 0 1000 1500] /Resources << %s >> %s" % (resources, more)
    return pdf_stream(content, head, packed=True)
