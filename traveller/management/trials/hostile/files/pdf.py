"""PDF certificates whose structure is hostile: pages, forms, streams and references without end."""

from __future__ import annotations

import zlib
from random import Random

from traveller.management.trials.hostile.files.kinds import hostile, some
from traveller.management.trials.hostile.files.packed import zlib_zeros
from traveller.management.trials.hostile.files.pdf_writing import BOX, one_page, pdf_file, pdf_stream


@hostile("pdf", ".pdf", known=True)
def pdf_slow_blend(rng: Random, scale: float) -> bytes:
    """200,000 times the same rectangle, blended by luminosity, in 10 KB."""
    state = b"/ExtGState << /G << /ca 0.5 /BM /Luminosity >> >>"
    return one_page(b"/G gs\n" + b"0 0 1000 1500 re f\n" * some(scale, 200_000), state)


@hostile("pdf", ".pdf", known=True)
def pdf_javascript(rng: Random, scale: float) -> bytes:
    """JavaScript that is to run when the document is opened."""
    script = b"/OpenAction << /S /JavaScript /JS (while (true) { this.saveAs('/tmp/a'); }) >>"
    return one_page(b"0 0 100 100 re f", catalogue=script)


@hostile("pdf", ".pdf", known=True)
def pdf_vast_page(rng: Random, scale: float) -> bytes:
    """A page of 1,000,000,000 points."""
    return one_page(b"0 0 100 100 re f", box=b"/MediaBox [0 0 1000000000 1000000000] /UserUnit 75000")


@hostile("pdf", ".pdf", known=True)
def pdf_many_pages(rng: Random, scale: float) -> bytes:
    """A document that says it has 999,999,999 pages."""
    return pdf_file([b"<< /Type /Catalog /Pages 2 0 R >>", b"<< /Type /Pages /Kids [3 0 R] /Count 999999999 >>",
                b"<< /Type /Page /Parent 2 0 R %s >>" % BOX])  # fmt: skip


@hostile("pdf", ".pdf", known=True)
def pdf_page_loop(rng: Random, scale: float) -> bytes:
    """Pages whose children are their parents."""
    return pdf_file([b"<< /Type /Catalog /Pages 2 0 R >>", b"<< /Type /Pages /Kids [2 0 R 3 0 R] /Count 4 >>",
                b"<< /Type /Pages /Parent 3 0 R /Kids [2 0 R] /Count 4 >>"])  # fmt: skip


@hostile("pdf", ".pdf", known=True)
def pdf_2_gb_stream(rng: Random, scale: float) -> bytes:
    """A drawing that unpacks to 2 GB."""
    content = zlib_zeros(some(scale, 2_000_000_000))
    return pdf_file([
        b"<< /Type /Catalog /Pages 2 0 R >>", b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Page /Parent 2 0 R %s /Contents 4 0 R >>" % BOX, pdf_stream(content, b"/Filter /FlateDecode"),
    ])  # fmt: skip


@hostile("pdf", ".pdf", known=True)
def pdf_garbage(rng: Random, scale: float) -> bytes:
    """The first line of a PDF and a megabyte of nothing."""
    return b"%PDF-1.7\n" + rng.randbytes(some(scale, 1_000_000))


@hostile("pdf", ".pdf", known=True)
def pdf_locked(rng: Random, scale: float) -> bytes:
    """A document locked by a password."""
    lock = b"/Encrypt << /Filter /Standard /V 2 /R 3 /Length 128 /P -4 /O <%s> /U <%s> >> /ID [<00> <00>]"
    keys = (rng.randbytes(32).hex().encode(), rng.randbytes(32).hex().encode())
    return pdf_file([b"<< /Type /Catalog /Pages 2 0 R >>", b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
                b"<< /Type /Page /Parent 2 0 R %s >>" % BOX], lock % keys)  # fmt: skip


@hostile("pdf", ".pdf")
def pdf_packed_often(rng: Random, scale: float) -> bytes:
    """A drawing packed three times over, which unpacks to 1 GB from a few hundred bytes."""
    content = zlib.compress(zlib.compress(zlib_zeros(some(scale, 1_000_000_000)), 9), 9)
    return pdf_file([
        b"<< /Type /Catalog /Pages 2 0 R >>", b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Page /Parent 2 0 R %s /Contents 4 0 R >>" % BOX,
        pdf_stream(content, b"/Filter [/FlateDecode /FlateDecode /FlateDecode]"),
    ])  # fmt: skip


@hostile("pdf", ".pdf")
def pdf_packed_objects(rng: Random, scale: float) -> bytes:
    """200,000 objects in one packed stream of objects."""
    count = some(scale, 200_000)
    heads = b" ".join(b"%d %d" % (number + 10, number * 3) for number in range(count))
    inner = pdf_stream(
        heads + b"\n" + b"[] " * count, b"/Type /ObjStm /N %d /First %d" % (count, len(heads) + 1), packed=True
    )
    table = b"".join(b"\x02\0\0\0\x05" + (n & 0xFFFF).to_bytes(2, "big") for n in range(count))
    index = pdf_stream(
        table, b"/Type /XRef /Size %d /W [1 4 2] /Index [10 %d] /Root 1 0 R" % (count + 10, count), packed=True
    )
    return one_page(b"0 0 9 9 re f", more=[inner, index])


@hostile("pdf", ".pdf")
def pdf_filled_form(rng: Random, scale: float) -> bytes:
    """A form of 2,000 fields, each with a picture of its own of what was filled in, blended by luminosity."""
    count = some(scale, 2000)
    state = b"/Type /XObject /Subtype /Form /BBox [0 0 1000 1500] "
    state += b"/Resources << /ExtGState << /G << /ca 0.5 /BM /Luminosity >> >> >>"
    look = pdf_stream(b"/G gs " + b"0 0 1000 1500 re f " * 100, state)
    kids = b" ".join(b"%d 0 R" % (number + 6) for number in range(count))
    field = b"<< /Type /Annot /Subtype /Square /FT /Tx /F 4 /T (f) /Rect [0 0 1000 1500] /AP << /N 5 0 R >> >>"
    page, catalogue = b"/Annots [%s]" % kids, b"/AcroForm << /Fields [%s] >>" % kids
    return one_page(b"", more=[look, *[field] * count], page=page, catalogue=catalogue)


@hostile("pdf", ".pdf")
def pdf_xfa_form(rng: Random, scale: float) -> bytes:
    """A form in XML that is nested 100,000 deep."""
    depth = some(scale, 100_000)
    inner = pdf_stream(b"<xdp>" + b"<subform>" * depth + b"</subform>" * depth + b"</xdp>", packed=True)
    return one_page(b"0 0 9 9 re f", more=[inner], catalogue=b"/AcroForm << /Fields [] /XFA 5 0 R >>")


@hostile("pdf", ".pdf")
def pdf_nested_arrays(rng: Random, scale: float) -> bytes:
    """A drawing of brackets, 3,000,000 deep."""
    depth = some(scale, 3_000_000)
    return one_page(b"[" * depth + b"]" * depth + b" TJ")


@hostile("pdf", ".pdf")
def pdf_cut_off(rng: Random, scale: float) -> bytes:
    """A document that ends in the middle of its drawing."""
    whole = one_page(rng.randbytes(4000), packed=False)
    return whole[: rng.randrange(300, 2000)]


@hostile("pdf", ".pdf")
def pdf_table_loop(rng: Random, scale: float) -> bytes:
    """A table of objects that sends on to itself."""
    body = b"%PDF-1.7\n"
    return body + b"xref\n0 1\n0000000000 65535 f \ntrailer\n<< /Size 1 /Prev %d >>\nstartxref\n%d\n%%%%EOF\n" % (
        (len(body),) * 2
    )
