"""Message catalogues: the text file that translators edit (.po) and the binary that gettext reads (.mo).

Only what our catalogues use: msgid, plural, no contexts. Formats: GNU gettext manual, "The Format of PO Files" and
"The Format of GNU MO Files". Written here so that a fresh machine needs no gettext tools.
"""

from __future__ import annotations

import ast
import re
import struct
from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["Catalogue", "Entry", "compiled", "read", "written"]

_MAGIC = 0x950412DE


@dataclass(frozen=True, slots=True)
class Entry:
    """One message: the English, its plural if it counts, the translations (one, or one for each plural form)."""

    msgid: str
    plural: str = ""
    words: tuple[str, ...] = ("",)
    fuzzy: bool = False

    @property
    def is_translated(self) -> bool:
        return all(self.words) and not self.fuzzy


@dataclass(frozen=True, slots=True)
class Catalogue:
    """The header, verbatim, and the entries by their English."""

    header: str
    entries: Mapping[str, Entry]

    @property
    def forms(self) -> int:
        """How many plural forms the language has, from the header."""
        found = re.search(r"nplurals\s*=\s*(\d+)", self.header)
        return int(found[1]) if found else 1


def read(text: str) -> Catalogue:
    """Read a catalogue; a line that is understood by no rule is an error, never passed over."""
    header, entries = "", {}
    for block in re.split(r"\n\s*\n", text.replace("\r\n", "\n")):
        entry = _entry(block)
        if entry is None:
            continue
        if not entry.msgid:
            header = entry.words[0]
        elif entry.msgid in entries:
            raise ValueError(f"twice in the catalogue: {entry.msgid!r}")
        else:
            entries[entry.msgid] = entry
    return Catalogue(header, entries)


def _entry(block: str) -> Entry | None:
    fields: dict[str, str] = {}
    field, fuzzy = "", False
    for line in block.splitlines():
        if line.startswith("#"):
            fuzzy = fuzzy or (line.startswith("#,") and "fuzzy" in line)
            continue
        found = re.fullmatch(r'(?:(msgid|msgid_plural|msgstr(?:\[\d\])?)\s+)?(".*")\s*', line)
        if not found or not (found[1] or field):
            raise ValueError(f"not a line of a catalogue: {line!r}")
        field = found[1] or field
        fields[field] = fields.get(field, "") + ast.literal_eval(found[2])
    if not fields:
        return None
    words = [fields[name] for name in sorted(fields) if name.startswith("msgstr")]
    return Entry(fields["msgid"], fields.get("msgid_plural", ""), tuple(words), fuzzy)


def written(catalogue: Catalogue) -> str:
    """The catalogue as text, its entries in the order given."""
    blocks = [_block(Entry("", "", (catalogue.header,))), *(_block(entry) for entry in catalogue.entries.values())]
    return "\n\n".join(blocks) + "\n"


def _block(entry: Entry) -> str:
    lines = ["#, fuzzy"] if entry.fuzzy else []
    lines += _field("msgid", entry.msgid)
    if not entry.plural:
        return "\n".join([*lines, *_field("msgstr", entry.words[0])])
    lines += _field("msgid_plural", entry.plural)
    for number, words in enumerate(entry.words):
        lines += _field(f"msgstr[{number}]", words)
    return "\n".join(lines)


def _field(name: str, text: str) -> list[str]:
    parts = text.splitlines(keepends=True)
    if len(parts) < 2:
        return [f"{name} {_quoted(text)}"]
    return [f'{name} ""', *(_quoted(part) for part in parts)]


def _quoted(text: str) -> str:
    plain = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t")
    return f'"{plain}"'


def compiled(catalogue: Catalogue) -> bytes:
    """The catalogue as gettext reads it: sorted, without what is empty or fuzzy."""
    pairs = {"": catalogue.header}
    for entry in catalogue.entries.values():
        if entry.is_translated:
            key = f"{entry.msgid}\0{entry.plural}" if entry.plural else entry.msgid
            pairs[key] = "\0".join(entry.words)
    rows = sorted((key.encode(), words.encode()) for key, words in pairs.items())
    count = len(rows)
    # Header of seven words, then the two tables of lengths and places, then the texts, each ended by a zero.
    place = 7 * 4 + count * 16
    tables, texts = [], b""
    for column in (0, 1):
        for row in rows:
            tables.append(struct.pack("<2I", len(row[column]), place + len(texts)))
            texts += row[column] + b"\0"
    head = struct.pack("<7I", _MAGIC, 0, count, 28, 28 + count * 8, 0, 28 + count * 16)
    return head + b"".join(tables) + texts
