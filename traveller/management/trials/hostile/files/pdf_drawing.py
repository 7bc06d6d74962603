"""PDF certificates that are slow to draw: few bytes that ask for much work, or for much memory."""

from __future__ import annotations

import struct
from random import Random

from traveller.management.trials.hostile.files.kinds import hostile, side, some
from traveller.management.trials.hostile.files.packed import zlib_zeros
from traveller.management.trials.hostile.files.pdf_writing import form, one_page, pdf_stream


@hostile("pdf", ".pdf")
def pdf_drawings_in_drawings(rng: Random, scale: float) -> bytes:
    """Twelve drawings, each of which draws the next ten times."""
    deep = some(scale, 12, 3)
    more = [form(b"/X Do " * 10, b"/XObject << /X %d 0 R >>" % (6 + level)) for level in range(deep)]
    return one_page(b"/X Do", b"/XObject << /X 5 0 R >>", [*more, form(b"0 0 1000 1500 re f")])


@hostile("pdf", ".pdf")
def pdf_drawing_of_itself(rng: Random, scale: float) -> bytes:
    """A drawing that draws itself, twice."""
    return one_page(b"/X Do", b"/XObject << /X 5 0 R >>", [form(b"/X Do /X Do", b"/XObject << /X 5 0 R >>")])


@hostile("pdf", ".pdf")
def pdf_letters_of_letters(rng: Random, scale: float) -> bytes:
    """A font whose letters are drawings that write letters of the same font."""
    glyph = pdf_stream(b"1000 0 d0 BT /F 900 Tf (aaaaaaaa) Tj ET")
    font = (
        b"<< /Type /Font /Subtype /Type3 /FontBBox [0 0 1000 1000] /FontMatrix [0.001 0 0 0.001 0 0] /FirstChar 97 "
        b"/LastChar 97 /Widths [1000] /Encoding << /Differences [97 /a] >> /CharProcs << /a 6 0 R >> "
        b"/Resources << /Font << /F 5 0 R >> >> >>"
    )
    return one_page(
        b"BT /F 900 Tf " + b"(aaaaaaaa) Tj " * some(scale, 20_000) + b"ET", b"/Font << /F 5 0 R >>", [font, glyph]
    )


@hostile("pdf", ".pdf")
def pdf_masks_in_masks(rng: Random, scale: float) -> bytes:
    """Soft masks of soft masks, each used four times."""
    deep = some(scale, 14, 3)

    def level(number: int) -> bytes:
        mask = b"/ExtGState << /G << /SMask << /S /Luminosity /G %d 0 R >> >> >>" % (6 + number)
        group = b"/Group << /S /Transparency /CS /DeviceRGB >>"
        return form(b"/G gs 0 0 1000 1500 re f " * 4, mask, group)

    last = form(b"1 g 0 0 1000 1500 re f", more=b"/Group << /S /Transparency /CS /DeviceRGB >>")
    first = b"/ExtGState << /G << /SMask << /S /Luminosity /G 5 0 R >> >> >>"
    return one_page(b"/G gs 0 0 1000 1500 re f", first, [*[level(number) for number in range(deep)], last])


@hostile("pdf", ".pdf")
def pdf_groups(rng: Random, scale: float) -> bytes:
    """20,000 see-through groups of a whole page."""
    group = form(b"0 0 1000 1500 re f", more=b"/Group << /S /Transparency /I true /CS /DeviceRGB >>")
    state = b"/XObject << /X 5 0 R >> /ExtGState << /G << /ca 0.3 /BM /Saturation >> >>"
    return one_page(b"/G gs " + b"/X Do " * some(scale, 20_000), state, [group])


@hostile("pdf", ".pdf")
def pdf_reckoned_colours(rng: Random, scale: float) -> bytes:
    """A shading whose every point is reckoned by a program of 20,000 roots, drawn fifty times."""
    program = b"{ " + b"2 exp abs sqrt " * some(scale, 20_000, 100) + b"exch pop dup dup }"
    function = pdf_stream(program, b"/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1]")
    shading = (
        b"<< /ShadingType 1 /ColorSpace /DeviceRGB /Domain [0 1 0 1] /Matrix [1000 0 0 1500 0 0] /Function 5 0 R >>"
    )
    return one_page(b"/S sh " * 50, b"/Shading << /S 6 0 R >>", [function, shading])


@hostile("pdf", ".pdf")
def pdf_triangles(rng: Random, scale: float) -> bytes:
    """A shading of 400,000 triangles, each as large as the page."""
    corners = b"".join(
        struct.pack(">BHHBBB", 0, rng.randrange(2) * 65_535, rng.randrange(2) * 65_535, *rng.randbytes(3))
        for _ in range(some(scale, 1_200_000, 30))
    )
    more = (
        b"/ShadingType 4 /ColorSpace /DeviceRGB /BitsPerCoordinate 16 /BitsPerComponent 8 /BitsPerFlag 8 "
        b"/Decode [0 1000 0 1500 0 1 0 1 0 1]"
    )
    return one_page(b"/S sh", b"/Shading << /S 5 0 R >>", [pdf_stream(corners, more, packed=True)])


@hostile("pdf", ".pdf")
def pdf_tiny_tiles(rng: Random, scale: float) -> bytes:
    """A page filled, two hundred times, with tiles a hundredth of a point wide."""
    step = 0.01 / max(scale, 0.0001) ** 0.5
    more = b"/PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 1 1] /XStep %f /YStep %f /Resources << >>" % (
        step,
        step,
    )
    tile = pdf_stream(b"0 0 1 1 re f", more)
    content = b"/Pattern cs /P scn " + b"0 0 1000 1500 re f " * some(scale, 200)
    return one_page(content, b"/Pattern << /P 5 0 R >>", [tile])


@hostile("pdf", ".pdf")
def pdf_dashes(rng: Random, scale: float) -> bytes:
    """Long lines in dashes of a hundred-thousandth of a point."""
    return one_page(b"[0.00001] 0 d 1 w " + b"0 0 m 1000 1500 l S " * some(scale, 500))


@hostile("pdf", ".pdf")
def pdf_curves(rng: Random, scale: float) -> bytes:
    """One outline of 400,000 curves across the page, filled."""
    points = b"".join(
        b"%d %d %d %d %d %d c " % tuple(rng.randrange(1000) for _ in range(6)) for _ in range(some(scale, 400_000))
    )
    return one_page(b"0 0 m " + points + b"f*")


@hostile("pdf", ".pdf")
def pdf_clips(rng: Random, scale: float) -> bytes:
    """200,000 clips in clips, each round."""
    clip = b"q 0 0 m 1000 0 1000 1500 0 1500 c W n "
    return one_page(clip * some(scale, 200_000) + b"0 0 1000 1500 re f")


@hostile("pdf", ".pdf")
def pdf_vast_picture(rng: Random, scale: float) -> bytes:
    """A picture of 20,000 by 20,000 points with a mask as large, in 1.6 MB."""
    length = side(scale, 20_000)
    head = b"/Type /XObject /Subtype /Image /Width %d /Height %d /BitsPerComponent 8 /Filter /FlateDecode" % (
        length,
        length,
    )
    picture = pdf_stream(zlib_zeros(length * length * 3), head + b" /ColorSpace /DeviceRGB /SMask 6 0 R")
    mask = pdf_stream(zlib_zeros(length * length), head + b" /ColorSpace /DeviceGray")
    return one_page(b"1000 0 0 1500 0 0 cm /I Do", b"/XObject << /I 5 0 R >>", [picture, mask])


@hostile("pdf", ".pdf")
def pdf_jbig2_picture(rng: Random, scale: float) -> bytes:
    """A JBIG2 picture of 65,535 by 65,535 points which is coded in no bits at all."""
    length = side(scale, 65_535)
    page = struct.pack(">IIIIBH", length, length, 0, 0, 0, 0)
    region = struct.pack(">IIIIB", length, length, 0, 0, 0) + b"\0" + bytes([3, 255, 253, 255, 2, 254, 254, 254])
    region += bytes(64)
    body = struct.pack(">IBBBI", 0, 48, 0, 1, len(page)) + page
    body += struct.pack(">IBBBI", 1, 38, 0, 1, len(region)) + region
    head = b"/Type /XObject /Subtype /Image /Width %d /Height %d /BitsPerComponent 1 /ColorSpace /DeviceGray" % (
        length,
        length,
    )
    picture = pdf_stream(body, head + b" /Filter /JBIG2Decode")
    return one_page(b"1000 0 0 1500 0 0 cm /I Do", b"/XObject << /I 5 0 R >>", [picture])


@hostile("pdf", ".pdf")
def pdf_jpeg2000_picture(rng: Random, scale: float) -> bytes:
    """A JPEG 2000 picture of 88 megapixels of which nothing is there, on six pages."""
    from traveller.management.trials.hostile.files.wide_pictures import jpeg2000_vast

    length = side(scale, 9380)
    head = b"/Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceRGB /BitsPerComponent 8" % (
        length,
        length,
    )
    picture = pdf_stream(jpeg2000_vast(rng, scale), head + b" /Filter /JPXDecode")
    return one_page(b"1000 0 0 1500 0 0 cm /I Do", b"/XObject << /I 5 0 R >>", [picture])


@hostile("pdf", ".pdf")
def pdf_small_pictures(rng: Random, scale: float) -> bytes:
    """60,000 small pictures, each drawn as large as the page and see-through."""
    picture = b"q 1000 0 0 1500 0 0 cm BI /W 2 /H 2 /CS /RGB /BPC 8 /I true ID 012345678901 EI Q\n"
    state = b"/ExtGState << /G << /ca 0.1 /BM /Hue >> >>"
    return one_page(b"/G gs " + picture * some(scale, 60_000), state)
