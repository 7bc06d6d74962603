"""Style sheets and scripts are written for readers and served without what only readers need.

Of a style sheet comments, indents and line breaks; of a script indents and comments.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from django.core.files.base import ContentFile
from whitenoise.storage import CompressedManifestStaticFilesStorage

_STRING = r""""(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*'"""
_COMMENT = re.compile(rf"({_STRING})|/\*.*?\*/", re.DOTALL)
_BLANKS = re.compile(rf"({_STRING})|\s*([{{}};,])\s*|\s+", re.DOTALL)


# No text of ours goes over several lines (a test holds that), so that an indent is never part of one.
_REMARK = re.compile(r"^\s*//.*\n|^\s+|(?<=[;{},)]) // .*$|(?<=\{) /\* [^*\n]* \*/ (?=\})", re.MULTILINE)


def without_remarks(script: str) -> str:
    """The same script without what only says something to its reader, and without indents."""
    return _REMARK.sub("", script)


def squeezed(sheet: str) -> str:
    """The same style sheet in fewer bytes; what stands in quotes stays as it is."""
    bare = _COMMENT.sub(lambda found: found[1] or " ", sheet)
    return _BLANKS.sub(lambda found: found[1] or found[2] or " ", bare).strip()


class SqueezedStaticFilesStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Collected files with a digest in their names, compressed beforehand; squeezed before that."""

    def _save(self, name: str, content: Any) -> str:
        less = {".css": squeezed, ".js": without_remarks}.get(Path(name).suffix)
        if less is not None:
            # By chunks, because they begin at the beginning: who took the digest has read to the end.
            text = b"".join(content.chunks()).decode("utf-8")
            content = ContentFile(less(text).encode("utf-8"))
        return str(super()._save(name, content))
