"""What a page offers: its forms with all that they would send, and the addresses that it names."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

__all__ = ["FormField", "Page", "PageForm", "read_page"]


@dataclass(slots=True)
class FormField:
    """`kind` as in HTML's type, or select, textarea, submit; `options` of a select or of a group of radio buttons."""

    name: str
    kind: str
    value: str = ""
    options: list[str] = field(default_factory=list)
    reported: dict[str, str] = field(default_factory=dict)

    @property
    def wants(self) -> str:
        """`moment`, `number` or nothing in particular."""
        if self.kind in ("date", "datetime-local", "time", "month", "week"):
            return "moment"
        numeric = self.kind in ("number", "range") or self.reported.get("inputmode") in ("numeric", "decimal")
        return "number" if numeric else ""


@dataclass(slots=True)
class PageForm:
    action: str
    method: str
    multipart: bool
    fields: list[FormField] = field(default_factory=list)


@dataclass(slots=True)
class Page:
    forms: list[PageForm] = field(default_factory=list)
    addresses: list[str] = field(default_factory=list)


def read_page(html: str, url: str) -> Page:
    """Forms and addresses of a page of ours at this address; other servers' addresses are left out."""
    reader = _Reader(url)
    reader.feed(html)
    return reader.page


class _Reader(HTMLParser):
    def __init__(self, url: str) -> None:
        super().__init__(convert_charrefs=True)
        self.url = url
        self.page = Page()
        self.by_id: dict[str, PageForm] = {}
        self.form: PageForm | None = None
        self.select: FormField | None = None
        self.text: FormField | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        reported = {name: value or "" for name, value in attrs}
        for name in ("href", "src", "action", "formaction"):
            self.note(reported.get(name))
        if tag == "form":
            self.form = PageForm(
                action=self.own(reported.get("action") or self.url) or self.url,
                method=reported.get("method", "get").upper(),
                multipart=reported.get("enctype") == "multipart/form-data",
            )
            self.page.forms.append(self.form)
            if "id" in reported:
                self.by_id[reported["id"]] = self.form
        elif tag == "option" and self.select is not None:
            self.select.options.append(reported.get("value", ""))
            if "selected" in reported:
                self.select.value = reported.get("value", "")
        elif tag in ("input", "select", "textarea", "button") and reported.get("name"):
            self.add(tag, reported)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = None
        elif tag == "select":
            self.select = None
        elif tag == "textarea":
            self.text = None

    def handle_data(self, data: str) -> None:
        if self.text is not None:
            self.text.value += data

    def add(self, tag: str, reported: dict[str, str]) -> None:
        form = self.by_id.get(reported.get("form", "")) or self.form
        if form is None:
            return
        kind = {"input": reported.get("type", "text"), "button": "submit"}.get(tag, tag)
        same = next((each for each in form.fields if each.name == reported["name"] and each.kind == kind), None)
        if kind in ("radio", "submit") and same is not None:
            same.options.append(reported.get("value", ""))
            return
        found = FormField(reported["name"], kind, reported.get("value", ""), reported=reported)
        if kind in ("radio", "submit", "checkbox"):
            found.options.append(reported.get("value", "on"))
        form.fields.append(found)
        self.select = found if tag == "select" else self.select
        self.text = found if tag == "textarea" else self.text

    def note(self, address: str | None) -> None:
        own = self.own(address) if address else None
        if own is not None:
            self.page.addresses.append(own)

    def own(self, address: str) -> str | None:
        """Path and query of an address of this server."""
        try:
            whole = urlsplit(urljoin(f"http://localhost{self.url}", address))
        except ValueError:
            return None
        if whole.scheme not in ("http", "https") or whole.hostname not in ("localhost", None):
            return None
        return whole.path + (f"?{whole.query}" if whole.query else "")
