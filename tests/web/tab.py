"""A tab of a browser as once.js makes it: a form that is sent stays kept, with its id, until a page lets it go."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from uuid import uuid4

from django.test import Client


class _Forms(HTMLParser):
    """The forms of a page that are kept: where they go and what stands in their fields; the id that it confirms."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: dict[str, tuple[str, dict[str, Any]]] = {}
        self.confirmed = ""
        self._open: dict[str, Any] | None = None
        self._choice = self._words = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        reported = dict(attrs)
        name = reported.get("name") or self._choice
        if tag == "body":
            self.confirmed = reported.get("data-confirmed") or ""
        elif tag == "form" and reported.get("data-once"):
            self._open = {}
            self.forms[str(reported["data-once"])] = (reported.get("action") or "", self._open)
        elif self._open is None:
            return
        elif tag == "input" and name:
            if reported.get("type") not in ("radio", "checkbox", "file") or "checked" in reported:
                self._open[name] = reported.get("value") or ""
        elif tag == "select" and name:
            self._choice = name
        elif tag == "option" and self._choice and ("selected" in reported or self._choice not in self._open):
            self._open[self._choice] = reported.get("value") or ""
        elif tag == "textarea" and name:
            self._words = name
            self._open.setdefault(name, "")

    def handle_data(self, data: str) -> None:
        if self._open is not None and self._words:
            self._open[self._words] += data.removeprefix("\n")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._open = None
        elif tag in ("select", "textarea"):
            self._choice = self._words = ""


@dataclass
class Tab:
    """`kept`: what the tab still holds, by page and form; an id that was let go is never sent again."""

    client: Client
    kept: dict[tuple[str, str], str] = field(default_factory=dict)
    used: set[str] = field(default_factory=set)

    def send(self, page: Any, form: str, typed: dict[str, Any] | None = None) -> Any:
        """Open a page (or take one that stands open), fill in one of its forms, send it and follow where it leads."""
        opened = self.client.get(page, follow=True) if isinstance(page, str) else page
        page = opened.request["PATH_INFO"]
        forms = self._look(opened).forms
        assert form in forms, f"{page} has no form {form!r}, but {sorted(forms)}"
        action, fields = forms[form]
        key = (page, form)
        uid = self.kept.get(key) or fields["news_id"] or str(uuid4())
        assert uid not in self.used, f"{page} offers an id that is used up"
        self.kept[key] = uid
        reported = {**fields, **(typed or {}), "news_id": uid}
        here = f"{page}?{opened.request['QUERY_STRING']}"
        answer = self.client.post(action or here, reported, follow=True)
        if answer["Content-Type"].startswith("text/html"):
            self._look(answer)
        elif "told" in self.client.cookies:
            self._let_go(self.client.cookies["told"].value)
        return answer

    def _look(self, answer: Any) -> _Forms:
        """Read a page as the script does when it opens."""
        found = _Forms()
        found.feed(answer.content.decode())
        if found.confirmed:
            self._let_go(found.confirmed)
        return found

    def _let_go(self, uid: str) -> None:
        self.kept = {key: kept for key, kept in self.kept.items() if kept != uid}
        self.used.add(uid)
