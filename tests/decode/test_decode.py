"""A child process reads strangers' bytes: what it may do, what it answers, and how it is ended."""

from __future__ import annotations

import io
import os
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import zxingcpp
from PIL import Image

from traveller.decode import Decoded, Undecoded, ask, decode
from traveller.decode.limits import LIMITS, Limit
from traveller.decode.slots import alone, slot

ENDLESS_PAINTER = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 100 100\n%%EndComments\n{} loop\nshowpage\n%%EOF"


def picture(form: str = "JPEG", size: tuple[int, int] = (80, 60), **more: Any) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, "teal").save(out, form, **more)
    return out.getvalue()


def found(kind: str, content: bytes, place: Path, **asked: Any) -> Decoded:
    answer = decode(kind, [content], asked, place=place)
    assert isinstance(answer, Decoded), answer
    return answer


def a_kind(monkeypatch: pytest.MonkeyPatch, folder: Path, body: str, **limit: Any) -> None:
    """A decoder of our own making that misbehaves, beside a copy of the child that knows it."""
    for name in ("__init__", "wire", "child", "limits"):
        text = (Path(ask.__file__).with_name(f"{name}.py")).read_text(encoding="utf-8") if name != "__init__" else ""
        (folder / "traveller" / "decode" / "kinds").mkdir(parents=True, exist_ok=True)
        (folder / "traveller" / "decode" / f"{name}.py").write_text(text, encoding="utf-8")
    (folder / "traveller" / "__init__.py").write_text("", encoding="utf-8")
    (folder / "traveller" / "decode" / "kinds" / "__init__.py").write_text("", encoding="utf-8")
    code = "import os, socket, time\ndef rehearse(asked): pass\ndef decode(asked, blobs):\n" + body
    (folder / "traveller" / "decode" / "kinds" / "odd.py").write_text(code, encoding="utf-8")
    monkeypatch.setattr(ask, "CHILD", folder / "traveller" / "decode" / "child.py")
    figures = {"cpu_s": 2, "wall_s": 5.0, "memory_bytes": 300 << 20, **limit}
    monkeypatch.setitem(LIMITS, "odd", Limit(**figures))


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_picture_of_a_named_form_is_redrawn_in_each_size(tmp_path: Path, form: str) -> None:
    answer = found("picture", picture(form, (900, 600)), tmp_path, sides=[300, 90])
    assert answer.facts == {"format": form, "width": 900, "height": 600}
    drawn = [Image.open(io.BytesIO(blob)) for blob in answer.blobs]
    assert [(one.format, one.size) for one in drawn] == [("JPEG", (300, 200)), ("JPEG", (90, 60))]


def test_a_redrawn_picture_stands_upright_and_says_nothing_of_its_camera(tmp_path: Path) -> None:
    reported = Image.Exif()
    reported[0x0112], reported[0x010F] = 6, "a camera"
    reported.get_ifd(0x8825)[1] = "N"
    answer = found("picture", picture(size=(60, 20), exif=reported, comment=b"where it was"), tmp_path, sides=[100])
    drawn = Image.open(io.BytesIO(answer.blobs[0]))
    assert drawn.size == (20, 60)
    assert not drawn.getexif() and "comment" not in drawn.info


def test_no_program_is_started_for_a_picture_that_wants_one(tmp_path: Path) -> None:
    began = time.monotonic()
    assert decode("picture", [ENDLESS_PAINTER], {"sides": [90]}, place=tmp_path) == Undecoded("unreadable")
    assert time.monotonic() - began < LIMITS["picture"].wall_s


def test_a_picture_of_too_many_points_is_measured_and_not_unpacked(tmp_path: Path) -> None:
    answer = found("picture", picture("PNG", (7000, 4000)), tmp_path, sides=[90])
    assert (answer.facts, answer.blobs) == ({"points": [7000, 4000]}, [])


def test_the_code_in_a_photo_is_read(tmp_path: Path) -> None:
    drawn = zxingcpp.create_barcode("https://trace.example/t/7K3M9QX", zxingcpp.BarcodeFormat.QRCode)
    out = io.BytesIO()
    Image.fromarray(np.asarray(drawn.to_image(scale=6))).save(out, "PNG")
    assert found("code", out.getvalue(), tmp_path).facts == {"text": "https://trace.example/t/7K3M9QX"}
    assert found("code", picture(), tmp_path).facts == {"text": None}


def test_a_log_comes_back_with_its_readings(tmp_path: Path) -> None:
    text = "Time,Temp °C\n2026-03-14 02:00:00,150.0\n2026-03-14 02:01:00,151.5\n"
    answer = found("log", text.encode(), tmp_path, zone="America/Chicago")
    times, celsius = (np.frombuffer(blob, "<f8") for blob in answer.blobs)
    assert celsius.tolist() == [150.0, 151.5] and np.diff(times).tolist() == [60.0]
    # Central Daylight Time since 8 March 2026: 02:00 there is 07:00 in UTC.
    assert times[0] == 1773471600.0


def test_bytes_that_are_nothing_are_unreadable_and_never_an_error(tmp_path: Path) -> None:
    for kind, asked in (("picture", {"sides": [90]}), ("code", {}), ("pdf", {})):
        assert decode(kind, [b"\x00garbage"], asked, place=tmp_path) == Undecoded("unreadable")
    assert found("log", b"\x00garbage", tmp_path).facts["not_a_log"]["code"] == "log.binary"


@pytest.mark.parametrize(
    "deed",
    [
        "open('/etc/hostname')",
        "open(asked['file'], 'w').write('x')",
        "socket.socket()",
        "os.pipe()",
        "os.write(os.open('/dev/null', os.O_WRONLY), b'x')",
    ],
)
def test_the_child_can_open_and_write_nothing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, deed: str) -> None:
    a_kind(monkeypatch, tmp_path, f"    {deed}\n    return {{'did': True}}, []\n")
    target = tmp_path / "written"
    assert decode("odd", [b""], {"file": str(target)}, place=tmp_path) == Undecoded("unreadable")
    assert not target.exists()


def test_the_child_knows_nothing_of_its_askers_surroundings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("DATABASE_URL", "postgres://somebody:secret@db/name")
    a_kind(monkeypatch, tmp_path, "    return {'seen': sorted(os.environ)}, []\n")
    seen = found("odd", b"", tmp_path).facts["seen"]
    assert set(seen) == set(ask.ENVIRONMENT)


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ("    while True: pass\n", "too_slow"),
        # It had no processor of which it could have made use: that is not the file's fault.
        ("    time.sleep(60)\n", "ended"),
        ("    x = bytearray(1 << 30)\n    return {}, []\n", "too_large"),
        ("    os._exit(0)\n", "unreadable"),
        ("    os.kill(os.getpid(), 11)\n", "unreadable"),
        ("    raise RuntimeError('no')\n", "unreadable"),
        ("    os.write(1, b'{}')\n    os._exit(0)\n", "unreadable"),
        ("    return {'fault': 'anything'}, []\n", "unreadable"),
        ("    block = b'x' * (1 << 20)\n    while True: os.write(1, block)\n", "too_large"),
    ],
)
def test_whatever_a_decoder_does_the_asker_gets_an_answer_in_time(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, body: str, why: str
) -> None:
    a_kind(monkeypatch, tmp_path, body, cpu_s=1, wall_s=2.0 if "sleep" in body else 20.0)
    began = time.monotonic()
    assert decode("odd", [b"x" * 300_000], {}, place=tmp_path) == Undecoded(why)  # type: ignore[arg-type]
    # Neither for ever nor for long: the clock's seconds, and what starting takes on a busy machine.
    assert time.monotonic() - began < 30


def test_what_a_child_started_ends_with_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    body = "    if os.fork(): time.sleep(60)\n    time.sleep(60)\n"
    a_kind(monkeypatch, tmp_path, body, wall_s=1.0)
    before = children_of(tmp_path)
    decode("odd", [b""], {}, place=tmp_path)
    assert before == children_of(tmp_path) == []


def children_of(folder: Path) -> list[str]:
    """Processes that run the child of this folder."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdecimal():
            try:
                if str(folder).encode() in (entry / "cmdline").read_bytes():
                    found.append(entry.name)
            except OSError:
                continue
    return found


def test_one_file_at_a_time_is_read_and_one_code_beside_it(tmp_path: Path) -> None:
    places = {kind: limit.slots for kind, limit in LIMITS.items()}
    for kind in sorted(places.keys() - {"code"}):
        asked = [places["log"], places[kind], places["code"], places["code"]]
        with ExitStack() as held:
            got = [held.enter_context(slot(tmp_path, names, 0)) for names in asked]
            assert got == [True, False, True, False], kind
        with slot(tmp_path, places[kind], 0) as again:
            assert again, "a place that was let go of is free again"


def test_when_no_place_comes_free_the_answer_is_that_it_is_busy(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    a_kind(monkeypatch, tmp_path, "    return {}, []\n", slot_wait_s=0.1)
    with slot(tmp_path, LIMITS["odd"].slots, 0):
        assert decode("odd", [b""], {}, place=tmp_path) == Undecoded("busy")
    assert decode("odd", [b""], {}, place=tmp_path) == Decoded({}, [])


def test_one_name_is_held_by_one_at_a_time(tmp_path: Path) -> None:
    with alone(tmp_path, "phone-7") as first, alone(tmp_path, "phone-7") as again, alone(tmp_path, "phone-8") as other:
        assert (first, again, other) == (True, False, True)


def test_the_files_of_the_places_are_their_owners_alone(tmp_path: Path) -> None:
    with slot(tmp_path / "places", ("file",), 0):
        assert (os.stat(tmp_path / "places").st_mode & 0o777) == 0o700
        assert (os.stat(tmp_path / "places" / "slot-file").st_mode & 0o777) == 0o600


def test_a_child_that_is_killed_from_outside_says_nothing_of_its_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    a_kind(monkeypatch, tmp_path, "    os.kill(os.getpid(), 9)\n")
    assert decode("odd", [b""], {}, place=tmp_path) == Undecoded("ended")
