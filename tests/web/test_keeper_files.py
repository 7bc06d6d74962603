"""The keeper's script and the manifest: served so that a browser takes them, and changed when a file changes."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from django.test import Client
from PIL import Image

from traveller.web import keeper_files
from traveller.web.squeezed import without_remarks

# What the operator's phone may be asked to load as scripts, all together, compressed.
SCRIPTS_BYTES_MAX = 30_000


def size_over_the_wire(text: str) -> int:
    return len(gzip.compress(text.encode(), 6))


def test_the_keeper_is_a_script_for_the_whole_site_that_is_asked_for_again_each_time() -> None:
    answer = Client().get("/keeper.js")
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Service-Worker-Allowed"] == "/" and answer["Cache-Control"] == "no-cache"
    assert Client().get("/keeper.js", headers={"if-none-match": answer["ETag"]}).status_code == 304


def test_a_browser_may_run_it_under_the_policy() -> None:
    policy = Client().get("/keeper.js")["Content-Security-Policy"]
    assert "worker-src 'self'" in policy and "manifest-src 'self'" in policy and "unsafe" not in policy


def test_its_version_changes_with_any_file_of_the_pages(monkeypatch: pytest.MonkeyPatch) -> None:
    before = keeper_files.pages_release()
    monkeypatch.setattr(keeper_files, "PIECES", keeper_files.PIECES[1:])
    keeper_files._release.cache_clear()
    assert keeper_files.pages_release() != before
    keeper_files._release.cache_clear()


def test_it_is_one_classic_script_of_all_its_pieces() -> None:
    text = keeper_files.keeper_script()
    assert not re.search(r"^(import|export) ", text, re.MULTILINE)
    for name in ("addEntry", "readCode", "sendAll", 'addEventListener("fetch"'):
        assert name in text
    assert f'VERSION = "{keeper_files.pages_release()}"' in text


def test_every_file_that_it_keeps_exists_and_the_pages_name_no_other() -> None:
    names = keeper_files.look_at_files()
    assert {"ink.css", "phone.css", "operator.css", "once.js", "unsent.js", "keeper.css"} <= set(names)
    for name in names:
        assert finders.find(f"web/{name}"), name
        assert f'"{settings.STATIC_URL}web/{name}"' in keeper_files.keeper_script()


def scripts_of(page: Path) -> set[str]:
    return {name for name in keeper_files.STATIC.findall(page.read_text("utf-8")) if name.endswith(".js")}


def test_all_scripts_of_any_page_of_the_operator_are_light_together_with_the_keeper() -> None:
    shared = scripts_of(keeper_files.PAGES_FOLDER / "phone.html")
    keeper = size_over_the_wire(keeper_files.keeper_script())
    weights = {}
    for page in sorted((keeper_files.PAGES_FOLDER / "operator").rglob("*.html")):
        paths = [keeper_files.SCRIPTS / name for name in shared | scripts_of(page)]
        weights[page.name] = keeper + sum(
            size_over_the_wire(without_remarks(path.read_text("utf-8"))) for path in paths
        )
    heaviest = max(weights, key=lambda name: weights[name])
    print(f"{heaviest}: {weights[heaviest]} bytes of scripts, compressed, {keeper} of them the keeper")
    assert weights[heaviest] < SCRIPTS_BYTES_MAX


def test_the_manifest_makes_the_pages_installable() -> None:
    answer = Client().get("/manifest.webmanifest")
    assert answer["Content-Type"] == "application/manifest+json"
    reported = answer.json()
    assert reported["start_url"] == "/here/" and reported["scope"] == "/" and reported["display"] == "standalone"
    assert reported["name"] and reported["short_name"] and reported["theme_color"] == "#fffefb"
    purposes = {icon["purpose"] for icon in reported["icons"]}
    sizes = {icon["sizes"] for icon in reported["icons"]}
    # Web App Manifest (W3C), "icons"; that browsers ask for 192 and 512 is common practice, no source.
    assert purposes == {"any", "maskable"} and {"192x192", "512x512"} <= sizes


def test_its_icons_are_the_sizes_that_it_says_and_the_maskable_one_keeps_inside_the_circle() -> None:
    for icon in Client().get("/manifest.webmanifest").json()["icons"]:
        path = finders.find(icon["src"].removeprefix(settings.STATIC_URL))
        assert isinstance(path, str)
        with Image.open(path) as picture:
            grey, width, height = picture.convert("L").tobytes(), picture.width, picture.height
            assert picture.format == "PNG"
        assert f"{width}x{height}" == icon["sizes"]
        if icon["purpose"] == "maskable":
            # Web App Manifest (W3C), "icon masks": the safe zone is a circle of 40 % of the icon's width.
            middle, radius = width / 2, 0.4 * width
            dark = [(n % width, n // width) for n, value in enumerate(grey) if value < 128]
            assert len(dark) > 1000
            assert max((x - middle) ** 2 + (y - middle) ** 2 for x, y in dark) <= radius**2


def test_the_icons_are_what_the_script_draws() -> None:
    from importlib.util import module_from_spec, spec_from_file_location

    spec = spec_from_file_location("draw_icons", settings.ROOT / "fixtures" / "icons" / "draw_icons.py")
    assert spec and spec.loader
    drawing = module_from_spec(spec)
    spec.loader.exec_module(drawing)
    drawn = drawing.icon(192, 0.86).convert("L").tobytes()
    with Image.open(keeper_files.SCRIPTS / "icon-192.png") as picture:
        kept = picture.convert("L").tobytes()
    apart = [abs(a - b) for a, b in zip(kept, drawn, strict=True)]
    assert sum(apart) / len(apart) < 1
