"""Every door through which a stranger's file can come, and what looks at it afterwards."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from traveller.management.trials.hostile.caller import Caller, Heard, with_files
from traveller.management.trials.hostile.files import Hostile
from traveller.management.trials.hostile.files.zip_writing import zipped

KINDS_OF_PROOF = {"picture": "photo", "pdf": "certificate", "log": "log"}
# The parts sheet of a workbook that brings a picture, and nothing new beside it.
PARTS_HEAD = "part,name,kind,unit,picture\n"


@dataclass(frozen=True)
class Strangers:
    """Two phones of one shop, a packer's phone and a browser of the founder's; and where they send to."""

    phones: tuple[Caller, Caller]
    packer: Caller
    founder: Caller
    steps: tuple[int, ...]
    batch: str
    line: int
    site: int
    part: tuple[str, str]


@dataclass(frozen=True)
class Sending:
    """One file on its way: `turn` counts, so that phones and steps take turns."""

    kind: Hostile
    content: bytes
    turn: int

    @property
    def name(self) -> str:
        return f"{self.kind.name}{self.kind.suffix}"


Send = Callable[[Strangers, Sending], Heard]


def _phone(who: Strangers, sending: Sending) -> Caller:
    return who.phones[sending.turn % 2]


def _step(who: Strangers, sending: Sending) -> int:
    return who.steps[sending.turn % len(who.steps)]


def photo_of_code(who: Strangers, sending: Sending) -> Heard:
    return _phone(who, sending).post("/here/photo", {}, [("photo", sending.name, sending.content)], sending.name)


def packers_photo(who: Strangers, sending: Sending) -> Heard:
    return who.packer.post("/pack/photo", {}, [("photo", sending.name, sending.content)], sending.name)


def photo_at_kit(who: Strangers, sending: Sending) -> Heard:
    files = [("photo", sending.name, sending.content)]
    return who.packer.post(f"/pack/line/{who.line}", {"more": "1"}, files, sending.name)


def proof(kind: str) -> Send:
    """A file sent as a photo, a certificate or a log; then all pages that show it are looked at."""

    def send(who: Strangers, sending: Sending) -> Heard:
        phone = _phone(who, sending)
        path = f"/here/step/{_step(who, sending)}/proof"
        answer = phone.post(path, {"kind": kind}, [("file", sending.name, sending.content)], f"{kind} {sending.name}")
        if answer.status == 302 and answer.place.startswith("/here/proof/"):
            number = answer.place.rstrip("/").rsplit("/", 1)[-1]
            phone.get(answer.place)
            phone.get(f"{answer.place}/picture")
            who.founder.get(f"/evidence/{number}")
            who.founder.get(f"/evidence/{number}/picture")
        return answer

    return send


def photo_of_problem(who: Strangers, sending: Sending) -> Heard:
    fields = {"what": "damaged", "reason": sending.kind.name}
    files = [("photo", sending.name, sending.content)]
    return _phone(who, sending).post(f"/here/problem/{who.batch}", fields, files, sending.name)


def _part_picture(who: Strangers, sending: Sending) -> Heard:
    number, name = who.part
    picture = "hostile.png" if sending.kind.suffix != ".jpg" else "hostile.jpg"
    sheet = f'{PARTS_HEAD}{number},"{name}",made,piece,{picture}\n'.encode()
    content = zipped([("parts.csv", sheet), (picture, sending.content)])
    return who.founder.post("/workbook", {}, [("files", "workbook.zip", content)], f"part picture {sending.name}")


def _workbook(who: Strangers, sending: Sending) -> Heard:
    suffix = sending.kind.suffix if sending.kind.suffix in (".csv", ".zip") else ".xlsx"
    return who.founder.post("/workbook", {}, [("files", f"parts{suffix}", sending.content)], f"workbook {sending.name}")


def queue_with_file(who: Strangers, sending: Sending) -> Heard:
    """An entry that waited on the phone, with its file."""
    kind = KINDS_OF_PROOF.get(sending.kind.reader, "photo")
    now = int(time.time() * 1000)
    entry: dict[str, Any] = {
        "id": str(uuid4()), "seq": sending.turn, "at": now, "path": f"/here/step/{_step(who, sending)}/proof",
        "person": "", "fields": [["kind", kind]],
    }  # fmt: skip
    envelope = json.dumps({"site": who.site, "sent_at": now, "entries": [entry]})
    form, body = with_files([("envelope", envelope)], [("file", sending.name, sending.content)])
    return _phone(who, sending).raw("/here/queue", body, form, sending.name)


def _queue(who: Strangers, sending: Sending) -> Heard:
    return _phone(who, sending).raw("/here/queue", sending.content, "application/json", sending.name)


def bare_form(who: Strangers, sending: Sending) -> Heard:
    """The body of a form as no browser writes it, to each page in turn that takes files."""
    head, _, body = sending.content.partition(b"\n")
    if sending.kind.reader != "form":
        head, body = b"multipart/form-data; boundary=x", sending.content
    pages: tuple[tuple[Caller, str], ...] = (
        (who.phones[0], f"/here/step/{who.steps[0]}/proof"), (who.phones[1], "/here/photo"),
        (who.phones[0], "/here/queue"), (who.packer, "/pack/photo"), (who.founder, "/workbook"),
        (who.phones[1], f"/here/problem/{who.batch}"),
    )  # fmt: skip
    answers = [caller.raw(path, body, head.decode("latin-1"), sending.name) for caller, path in pages]
    return max(answers, key=lambda answer: answer.seconds)


DOORS: Mapping[str, Send] = {
    "photo of a code": photo_of_code,
    "packer's photo of a code": packers_photo,
    "packer's photo at a kit": photo_at_kit,
    "photo": proof("photo"),
    "certificate": proof("certificate"),
    "log": proof("log"),
    "photo of a problem": photo_of_problem,
    "part picture": _part_picture,
    "workbook": _workbook,
    "queue with a file": queue_with_file,
    "queue": _queue,
    "form": bare_form,
}
# The door that each kind of file is made for; pictures are kept at one and looked at at once at the other.
MEANT_FOR = {"pdf": "certificate", "log": "log", "workbook": "workbook", "json": "queue", "form": "form"}
PICTURES = ("photo of a code", "photo")


def meant_for(kind: Hostile, turn: int) -> str:
    """The door that this file is made for; PostScript was run where a photo is looked at at once."""
    if kind.suffix == ".eps":
        return PICTURES[0]
    return MEANT_FOR.get(kind.reader) or PICTURES[turn % 2]
