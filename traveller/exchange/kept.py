"""A workbook between trying and importing: kept on the server with what was decoded of it and what came of it."""

from __future__ import annotations

import hashlib
import io
import json
import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

from django.conf import settings

from traveller.exchange.workbook import Counts, Doubt, Problem, RawBook, Report, Unconfirmed, read_raw
from traveller.exchange.workbook.kept_book import from_bytes, to_bytes
from traveller.journal.refusal import Refusal

__all__ = ["ImportAsked", "Kept", "Told", "folder", "sweep_kept"]

KEPT_SECONDS_MAX = 24 * 3600
_BOOK, _ASKED, _TOLD = ".book", ".asked", ".told"
Aim = Literal["try", "import"]


@dataclass(frozen=True, slots=True)
class ImportAsked:
    """What was asked for last: to try or to import, by which news, when (ISO)."""

    aim: Aim
    uid: str
    at: str


@dataclass(frozen=True, slots=True)
class Told:
    """What came of it: a report, all faults, what has to be confirmed first, or why nothing could be done; `broke`
    where the program fell over it."""

    aim: Aim
    uid: str
    report: Report | None = None
    problems: tuple[Problem, ...] = ()
    asked: Unconfirmed | None = None
    refusal: Refusal | None = None
    broke: bool = False


class _Upload(io.BytesIO):
    """The kept bytes under the name that the person gave them."""

    def __init__(self, name: str, content: bytes) -> None:
        super().__init__(content)
        self.name = name


@dataclass(frozen=True, slots=True)
class Kept:
    """An upload as one file: `key` names it here, `name` says by its end what it is.

    `called`: how the person called what was chosen, where several files, or one sheet, were put into one.
    """

    key: str
    name: str
    called: str = ""

    @property
    def title(self) -> str:
        """What the person chose."""
        return self.called or self.name

    @property
    def path(self) -> Path:
        """Where the file lies, or lay."""
        return folder() / self.key

    def keep(self, content: bytes) -> None:
        """Store its bytes. OSError where the disk is full."""
        _write(self.path, content)

    def is_there(self) -> bool:
        """False when it was swept away, or imported."""
        return self.path.is_file()

    def book(self) -> RawBook | None:
        """What it says, decoded at most once; none when it was swept away. It may take a minute: not in a request."""
        content = _read(self.path)
        if content is None:
            return None
        digest = hashlib.sha256(content).hexdigest()
        known = from_bytes(_read(self._beside(_BOOK)) or b"", digest)
        if known is not None:
            return known
        book = read_raw(_Upload(self.name, content))
        # What could not be opened at all may have waited in vain: it is looked at anew when it is asked for again.
        if book.opened:
            # A full disk costs no more than that it is decoded twice.
            with suppress(OSError):
                _write(self._beside(_BOOK), to_bytes(book, digest))
        return book

    def ask(self, asked: ImportAsked) -> None:
        """Remember what was asked for, so that the page can wait for it."""
        _write(self._beside(_ASKED), json.dumps(asdict(asked)).encode())

    def asked(self) -> ImportAsked | None:
        """What was asked for last."""
        reported = _read(self._beside(_ASKED))
        return ImportAsked(**json.loads(reported)) if reported else None

    def tell(self, reported: Told) -> None:
        """Remember what came of it."""
        _write(self._beside(_TOLD), json.dumps(asdict(reported)).encode())

    def reported(self) -> Told | None:
        """What came of what was asked for last; none while that is not done yet."""
        asked, content = self.asked(), _read(self._beside(_TOLD))
        reported = _reported(json.loads(content)) if content else None
        return reported if reported and asked and (reported.aim, reported.uid) == (asked.aim, asked.uid) else None

    def drop_content(self) -> None:
        """Imported: the bytes are not wanted any more, what came of them may be looked at again."""
        for path in (self.path, self._beside(_BOOK)):
            with suppress(OSError):
                path.unlink()

    def drop(self) -> None:
        """Nothing of it is wanted any more."""
        self.drop_content()
        for end in (_ASKED, _TOLD):
            with suppress(OSError):
                self._beside(end).unlink()

    def _beside(self, end: str) -> Path:
        return folder() / f"{self.key}{end}"


def folder() -> Path:
    """Where uploads wait, beside the database and not below any address."""
    return Path(settings.MEDIA_ROOT).parent / f"{Path(settings.MEDIA_ROOT).name}-uploads"


def sweep_kept(now: float) -> None:
    """What nobody imported within a day is not wanted any more. `now`: seconds since 1970."""
    for path in folder().iterdir():
        with suppress(OSError):
            if path.stat().st_mtime < now - KEPT_SECONDS_MAX:
                path.unlink()


def _reported(kept: Mapping[str, Any]) -> Told:
    report, refusal = kept["report"], kept["refusal"]
    return Told(
        aim=kept["aim"],
        uid=kept["uid"],
        report=report
        and Report(
            {sheet: Counts(**counts) for sheet, counts in report["sheets"].items()},
            tuple(Problem(**problem) for problem in report["warnings"]),
            report["dry_run"],
            _asked(report["asked"]),
        ),
        problems=tuple(Problem(**problem) for problem in kept["problems"]),
        asked=_asked(kept["asked"]),
        refusal=refusal and Refusal(**refusal),
        broke=kept["broke"],
    )


def _asked(kept: Mapping[str, Any] | None) -> Unconfirmed | None:
    return Unconfirmed(tuple(Doubt(**one) for one in kept["questions"]), kept["token"]) if kept else None


def _read(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except OSError:
        return None


def _write(path: Path, content: bytes) -> None:
    """Whole or not at all: a page may be looking at it meanwhile."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    half = path.with_name(f"{path.name}.{os.getpid()}.half")
    handle = os.open(half, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        half.replace(path)
    except OSError:
        half.unlink(missing_ok=True)
        raise
