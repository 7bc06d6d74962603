"""The program that draws the first pages of a stranger's PDF: it runs alone, so that it may fail, hang or be killed.

The file comes by standard input, the seconds of the processor as argument. A line of JSON (`total` and `sizes`, or
`fault`) and the JPEGs leave by standard output.
"""

from __future__ import annotations

import io
import json
import sys

import pypdfium2

PAGES_MOST = 6
WIDE_PX, TALL_PX = 1000, 1500
QUALITY = 82
MEMORY_BYTES = 1 << 30
PASSWORD_NEEDED, LOCK_UNKNOWN = 4, 5


def scale_for(width_pt: float, height_pt: float) -> float:
    """So that the picture fits into WIDE_PX by TALL_PX, however large the page says it is.

    Raises ValueError where the page has no size.
    """
    if not (width_pt > 0 and height_pt > 0):
        raise ValueError("a page without a size")
    # One dot is kept back, since the drawer rounds up.
    return min((WIDE_PX - 1) / width_pt, (TALL_PX - 1) / height_pt)


def drawn(content: bytes) -> tuple[int, list[bytes]]:
    """How many pages there are, and the first of them as JPEGs."""
    document = pypdfium2.PdfDocument(content)
    total, pictures = len(document), []
    for number in range(min(total, PAGES_MOST)):
        page = document[number]
        picture = page.render(scale=scale_for(*page.get_size())).to_pil().convert("RGB")
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=QUALITY)
        pictures.append(out.getvalue())
        page.close()
    return total, pictures


def bound(cpu_seconds: int) -> None:
    """Little time and memory, where the system can promise it; the caller's patience ends anyway."""
    try:
        import resource
    except ImportError:
        return
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_seconds, cpu_seconds))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def main() -> None:
    bound(int(sys.argv[1]))
    pictures: list[bytes] = []
    try:
        total, pictures = drawn(sys.stdin.buffer.read())
        head: dict[str, object] = {"total": total, "sizes": [len(picture) for picture in pictures]}
    except pypdfium2.PdfiumError as error:
        head = {"fault": "locked" if error.err_code in (PASSWORD_NEEDED, LOCK_UNKNOWN) else "damaged"}
    except (ValueError, OSError, MemoryError):
        head = {"fault": "damaged"}
    sys.stdout.buffer.write(json.dumps(head).encode() + b"\n" + b"".join(pictures))


if __name__ == "__main__":
    main()
