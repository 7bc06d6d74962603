"""The keeper's script and the manifest, which make the operator's pages a web app that works without a signal."""

from __future__ import annotations

import json
import re
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.templatetags.static import static
from django.utils.translation import gettext as _
from django.views.decorators.http import condition, require_safe

from traveller.web.squeezed import without_remarks

WEB = Path(__file__).parent
PAGES_FOLDER = WEB / "templates" / "web"
SCRIPTS = WEB / "static" / "web"
# In this order they are one script: not every phone's browser takes a module as a service worker.
PIECES = ("keeper_store.js", "keeper_codes.js", "keeper_send.js", "keeper.js")
STATIC = re.compile(r"{% static 'web/([^']+)' %}")
ICONS = (
    ("icon-192.png", "192x192", "any"),
    ("icon-512.png", "512x512", "any"),
    ("icon-mask.png", "512x512", "maskable"),
)
PAPER = "#fffefb"


@lru_cache(maxsize=1)
def look_at_files() -> tuple[str, ...]:
    """What the operator's pages are made of, so that a page never opened before looks right without a signal."""
    pages = [PAGES_FOLDER / "phone.html", *sorted((PAGES_FOLDER / "operator").rglob("*.html"))]
    return tuple(sorted({name for page in pages for name in STATIC.findall(page.read_text("utf-8"))}))


def _text(paths: list[Path]) -> bytes:
    return b"".join(path.name.encode() + b"\0" + path.read_bytes() for path in paths)


@lru_cache(maxsize=1)
def _release() -> str:
    templates = sorted(PAGES_FOLDER.rglob("*.html"))
    words = sorted((WEB / "locale").rglob("*.mo"))
    scripts = [SCRIPTS / name for name in sorted({*PIECES, *look_at_files()})]
    return sha256(_text([*templates, *words, *scripts])).hexdigest()[:12]


def pages_release() -> str:
    """A digest of all that makes the operator's pages; in development a changed file counts at once."""
    if settings.DEBUG:
        _release.cache_clear()
        look_at_files.cache_clear()
    return _release()


def keeper_script() -> str:
    """The service worker in one piece, with the version and the files it keeps."""
    statics = [static(f"web/{name}") for name in look_at_files()]
    head = f'"use strict";\nconst VERSION = {json.dumps(pages_release())};\nconst STATICS = {json.dumps(statics)};\n'
    pieces = "\n".join((SCRIPTS / name).read_text("utf-8") for name in PIECES)
    # Comments are for whoever reads the files; a phone asks for this script at every page.
    return head + without_remarks(pieces)


def _etag(_request: HttpRequest) -> str:
    return f'"{pages_release()}"'


@require_safe
@condition(etag_func=_etag)
def keeper(_request: HttpRequest) -> HttpResponse:
    """The keeper, for the whole site: /t/CODE on paper is its business as much as the shop's pages."""
    answer = HttpResponse(keeper_script(), content_type="text/javascript; charset=utf-8")
    answer["Service-Worker-Allowed"] = "/"
    answer["Cache-Control"] = "no-cache"
    return answer


@require_safe
def manifest(_request: HttpRequest) -> HttpResponse:
    """What a phone asks when it puts the pages on its first screen."""
    icons = [
        {"src": static(f"web/{name}"), "sizes": sizes, "type": "image/png", "purpose": purpose}
        for name, sizes, purpose in ICONS
    ]
    reported = {
        "id": "/here/",
        "name": _("Traveller"),
        "short_name": _("Traveller"),
        "description": _("Scan, one task, done."),
        "start_url": "/here/",
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": icons,
    }
    answer = JsonResponse(reported, content_type="application/manifest+json")
    answer["Cache-Control"] = "public, max-age=86400"
    return answer
