"""The style sheets and templates: contrast, weight, and nothing that the content security policy refuses."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from traveller.web.squeezed import squeezed

WEB = Path(__file__).parents[2] / "traveller" / "web"
STATIC = WEB / "static" / "web"
TEMPLATES = sorted((WEB / "templates").rglob("*.html"))
TOKENS = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{3,6})", (STATIC / "ink.css").read_text("utf-8")))
GROUNDS = ("paper", "card", "white", "wash", "okwash", "stopwash")


def luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.2, "Dfn: relative luminance"."""
    digits = colour.lstrip("#")
    digits = "".join(c * 2 for c in digits) if len(digits) == 3 else digits
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(a: str, b: str) -> float:
    """Return the contrast ratio of WCAG 2.2, "Dfn: contrast ratio"."""
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_measure_of_contrast_agrees_with_its_standard() -> None:
    # WCAG 2.2 gives 21:1 for black on white; #767676 on white is its well-known 4.54:1 (from memory).
    assert contrast("#000", "#fff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("ink", ["ink", "soft", "rule", "rule-deep", "stop"])
def test_every_ink_stands_at_seven_to_one_on_every_ground(ink: str, ground: str) -> None:
    assert contrast(TOKENS[ink], TOKENS[ground]) >= 7


@pytest.mark.parametrize("ground", ["ink", "rule", "rule-deep", "stop"])
def test_white_words_stand_at_seven_to_one_on_dark_plates(ground: str) -> None:
    assert contrast(TOKENS["white"], TOKENS[ground]) >= 7


def test_edges_of_fields_and_marks_stand_at_three_to_one() -> None:
    assert min(contrast(TOKENS["edge"], TOKENS[ground]) for ground in GROUNDS) >= 3


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.name)
def test_no_template_carries_what_the_content_security_policy_refuses(template: Path) -> None:
    text = template.read_text("utf-8")
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=|javascript:", text)
    assert not re.search(r"<script(?![^>]*\ssrc=)", text)


def served(name: str) -> int:
    """The bytes of a file as the production server sends it to whoever takes nothing compressed."""
    file = STATIC / name
    return len(squeezed(file.read_text("utf-8")).encode()) if file.suffix == ".css" else file.stat().st_size


def test_the_phones_own_style_sheet_stays_small() -> None:
    assert served("phone.css") < 12_000


def test_all_that_a_phone_page_loads_is_a_quarter_of_its_budget_even_uncompressed() -> None:
    names = ("ink.css", "phone.css", "once.js", "scan.js", "pad.js", "senses.js", "timer.js", "tag.svg")
    assert sum(map(served, names)) < 32_000


def test_every_token_that_is_used_is_defined() -> None:
    sheets = "".join(path.read_text("utf-8") for path in STATIC.glob("*.css"))
    used, defined = set(re.findall(r"var\(--([a-z-]+)\)", sheets)), set(re.findall(r"--([a-z-]+):", sheets))
    assert used <= defined
