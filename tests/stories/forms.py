"""The forms and links of a page, read from its HTML: a story may only type where the page has a field."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

Attrs = list[tuple[str, str | None]]
Told = dict[str, str]


def plain(words: str) -> str:
    """With single blanks, as one reads it."""
    return " ".join(words.split())


@dataclass
class Button:
    """What sends a form: its words, and the name and value that it sends along."""

    words: str = ""
    name: str = ""
    value: str = ""


@dataclass
class Way:
    """A link and its words."""

    words: str
    href: str


@dataclass
class Label:
    """What stands beside a field: it names the field's id, or stands around the field."""

    words: str = ""
    id: str = ""
    name: str = ""


@dataclass
class Form:
    """A form as the browser would send it; `boxes` are ticks and choices by name, with their values."""

    action: str = ""
    method: str = "get"
    typed: dict[str, list[str]] = field(default_factory=dict)
    fields: dict[str, str] = field(default_factory=dict)
    boxes: dict[str, set[str]] = field(default_factory=dict)
    buttons: list[Button] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def name_of(self, words: str) -> str:
        """A field by its name, or by how its label begins."""
        if words in self.fields.values():
            return words
        said = [(plain(label.words), label.name or self.fields.get(label.id, "")) for label in self.labels]
        found = {name for label, name in said if name and label.startswith(words)}
        assert len(found) == 1, f"{len(found)} fields are called {words!r}; there are {said}"
        return found.pop()

    def value_of(self, name: str, reported: object) -> list[str]:
        """What is sent for a field: True ticks its one box; a choice must be one of those offered."""
        offered = self.boxes.get(name)
        if offered and reported is True:
            (only,) = offered
            return [only]
        if offered:
            assert reported in offered, f"{name} offers {sorted(offered)}, not {reported!r}"
        return [str(reported)]


class Page(HTMLParser):
    """What can be read and done on a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.ways: list[Way] = []
        self._words: list[str] = []
        self._by_id: dict[str, Form] = {}
        self._late: list[tuple[str, Button]] = []
        self._form: Form | None = None
        self._select: tuple[Form, str] | None = None
        # Whatever stands open and gathers words: a button, a link, a label.
        self._open: dict[str, Button | Way | Label] = {}
        self.feed(html)
        for name, button in self._late:
            self._by_id[name].buttons.append(button)

    @property
    def text(self) -> str:
        return plain("".join(self._words))

    def handle_starttag(self, tag: str, attrs: Attrs) -> None:
        reported: Told = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._form = Form(reported.get("action", ""), reported.get("method", "get").lower())
            self.forms.append(self._form)
            self._by_id[reported.get("id", "")] = self._form
        elif tag == "a" and "href" in reported:
            way = Way("", reported["href"])
            self._open["a"] = way
            self.ways.append(way)
        elif tag == "button" and reported.get("type", "submit") == "submit":
            self._button(reported)
        elif tag == "label" and self._form is not None:
            label = Label(id=reported.get("for", ""))
            self._open["label"] = label
            self._form.labels.append(label)
        elif tag == "option" and self._select is not None:
            self._option(*self._select, reported)
        elif tag in ("input", "select", "textarea") and self._form is not None and reported.get("name"):
            self._field(self._form, tag, reported)

    def _button(self, reported: Told) -> None:
        button = Button("", reported.get("name", ""), reported.get("value", ""))
        self._open["button"] = button
        if reported.get("form"):
            self._late.append((reported["form"], button))
        elif self._form is not None:
            self._form.buttons.append(button)

    def _field(self, form: Form, tag: str, reported: Told) -> None:
        name, kind = reported["name"], reported.get("type", "text")
        form.fields[reported.get("id", f"unnamed {len(form.fields)}")] = name
        label = self._open.get("label")
        if isinstance(label, Label) and not label.id:
            label.name = name
        if tag == "select":
            self._select = (form, name)
        elif tag == "textarea":
            form.typed[name] = [""]
        elif kind in ("checkbox", "radio"):
            value = reported.get("value", "on")
            form.boxes.setdefault(name, set()).add(value)
            if "checked" in reported:
                form.typed.setdefault(name, []).append(value)
        elif kind != "file":
            form.typed.setdefault(name, []).append(reported.get("value", ""))

    def _option(self, form: Form, name: str, reported: Told) -> None:
        value = reported.get("value", "")
        form.boxes.setdefault(name, set()).add(value)
        if "selected" in reported or name not in form.typed:
            form.typed[name] = [value]

    def handle_endtag(self, tag: str) -> None:
        self._open.pop(tag, None)
        if tag == "form":
            self._form = None
        elif tag == "select":
            self._select = None

    def handle_data(self, data: str) -> None:
        self._words.append(f"{data} ")
        for one in self._open.values():
            one.words += f"{data} "

    def form_with(self, words: str) -> tuple[Form, Button]:
        """The form whose button says these words."""
        found = [(form, button) for form in self.forms for button in form.buttons if words in plain(button.words)]
        said = [plain(button.words) for form in self.forms for button in form.buttons]
        assert found, f"no button says {words!r}, but {said}: {self.text}"
        return found[0]

    def way(self, words: str) -> str:
        """Where the link with these words leads; the last one, as the great button stands at the foot."""
        found = [way.href for way in self.ways if words in plain(way.words)]
        assert found, f"no link says {words!r}, but {[plain(way.words) for way in self.ways]}: {self.text}"
        return found[-1]
