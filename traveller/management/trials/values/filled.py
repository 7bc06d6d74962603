"""A form filled in as its page would have it, then with a few things wrong, and put into a request."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from urllib.parse import quote_from_bytes

from traveller.management.trials.values.draw import Draw, Sent
from traveller.management.trials.values.pages import FormField, PageForm
from traveller.management.trials.values.wire import CSRF, Request

__all__ = ["filled", "form_encoded", "request_of", "spoiled"]

Pairs = list[tuple[str, str | Sent]]
NEVER = ("csrfmiddlewaretoken",)
WORDS = ("Ines", "blue lids", "scratched at the rim", "tray 4", "PC-7748", "Longhaul Parcel")


def filled(form: PageForm, draw: Draw, words: list[str]) -> Pairs:
    """What a person could have entered: `words` are codes and names that stand on pages."""
    pairs: Pairs = []
    pressed = [each for each in form.fields if each.kind in ("submit", "image")]
    for each in form.fields:
        if each.name in NEVER:
            pairs.append((each.name, CSRF))
        elif each.kind == "file":
            pairs.append((each.name, draw.file(each.reported.get("accept", ""))))
        elif each.kind not in ("submit", "image", "button", "reset"):
            value = _right(each, draw, words)
            if value is not None:
                pairs.append((each.name, value))
    if pressed:
        button = draw.random.choice(pressed)
        pairs.append((button.name, draw.random.choice(button.options or [""])))
    return pairs


def _right(each: FormField, draw: Draw, words: list[str]) -> str | None:
    """A value of the field's own kind; None for a box that is not ticked."""
    if each.kind == "checkbox":
        return each.options[0] if draw.chance(0.6) else None
    if each.kind == "radio":
        return draw.random.choice(each.options)
    if each.kind == "select":
        return draw.random.choice(each.options) if each.options else ""
    if each.kind == "hidden":
        # The same form sent again is told again; a new id makes it news.
        return draw.uid() if each.name == "news_id" and draw.chance(0.7) else each.value
    if each.value and draw.chance(0.5):
        return each.value
    if each.wants == "moment":
        day, hour = draw.random.randint(1, 28), draw.random.randint(0, 23)
        return {"date": f"2026-11-{day:02}", "time": f"{hour:02}:30"}.get(each.kind, f"2026-11-{day:02}T{hour:02}:30")
    if each.wants == "number":
        return draw.whole(0, draw.random.choice((3, 40, 500)))
    return draw.random.choice([*WORDS, *words])


def spoiled(form: PageForm, pairs: Pairs, draw: Draw, names: Mapping[str, str]) -> Pairs:
    """The same with one to three things wrong; the token stays, or nothing behind it would be reached.

    `names`: fields of any page, with what they want, so that a form also brings what another one asks for.
    """
    wants = {each.name: each.wants for each in form.fields}
    for _ in range(draw.random.choice((1, 1, 1, 2, 3))):
        places = [place for place, (name, _) in enumerate(pairs) if name not in NEVER]
        other = _other(draw, names)
        more: Pairs = [(other, draw.value("", names.get(other, "")))]
        if not places or draw.chance(0.15):
            pairs = [*pairs, *more]
            continue
        at = draw.random.choice(places)
        name, value = pairs[at]
        right = value if isinstance(value, str) else value.name
        wrong = draw.value(right, wants.get(name, ""))
        ways: tuple[Pairs, ...] = (
            [(name, wrong)],
            [(name, wrong)],
            [(name, wrong)],
            [(name, wrong)],
            [],
            [(name, value), (name, wrong)],
            [(draw.value(name), value)],
            [(name, draw.file())] if isinstance(value, str) else [(name, draw.value("photo"))],
        )
        pairs = [*pairs[:at], *draw.random.choice(ways), *pairs[at + 1 :]]
    return pairs


def _other(draw: Draw, names: Mapping[str, str]) -> str:
    """A field of another page; those that want a moment or a number are few, and drawn as often as all others."""
    wanted = draw.one("moment", "number", "", "")
    fit = sorted(name for name, wants in names.items() if wants == wanted)
    return draw.random.choice(fit) if fit and draw.chance(0.9) else draw.value("name")


def request_of(form: PageForm, pairs: Pairs, draw: Draw, headers: dict[str, str]) -> Request:
    """As a browser would send it, by the form's own method and encoding."""
    path, _, query = form.action.partition("?")
    if form.method == "GET":
        return Request("GET", path, _encoded(pairs).decode("ascii"), headers)
    if form.multipart or any(isinstance(value, Sent) for _, value in pairs):
        boundary = f"----{draw.random.getrandbits(64):x}"
        kind = f"multipart/form-data; boundary={boundary}"
        return Request("POST", path, query, headers, _parted(pairs, boundary), kind)
    return Request("POST", path, query, headers, _encoded(pairs), "application/x-www-form-urlencoded")


def _encoded(pairs: Pairs) -> bytes:
    return form_encoded([(name, value if isinstance(value, str) else value.name) for name, value in pairs])


def form_encoded(texts: Sequence[tuple[str, str]]) -> bytes:
    """Names and values as a form without files sends them; half a character goes out as the bytes that it would be."""
    return b"&".join(b"=".join(quote_from_bytes(_bytes(part), safe="").encode() for part in pair) for pair in texts)


def _parted(pairs: Pairs, boundary: str) -> bytes:
    out = []
    for name, value in pairs:
        head = b'Content-Disposition: form-data; name="' + _bytes(name).replace(b'"', b"%22") + b'"'
        if isinstance(value, Sent):
            head += b'; filename="' + _bytes(value.name) + b'"\r\nContent-Type: ' + _bytes(value.kind)
        content = value.content if isinstance(value, Sent) else _bytes(value)
        out.append(b"--" + boundary.encode() + b"\r\n" + head + b"\r\n\r\n" + content + b"\r\n")
    return b"".join(out) + b"--" + boundary.encode() + b"--\r\n"


def _bytes(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")
