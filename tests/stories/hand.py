"""A person with a browser: opens pages, follows links, fills in the forms that stand there and presses buttons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode, urljoin

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.paper.reading import texts
from tests.stories.forms import Page


@dataclass
class Hand:
    """`heard` keeps the words of every page and paper that this person was given."""

    client: Client = field(default_factory=lambda: Client(enforce_csrf_checks=True))
    path: str = "/"
    page: Page = field(default_factory=lambda: Page(""))
    heard: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        return self.page.text

    def open(self, path: str, status: int = 200) -> None:
        self._take(self.client.get(urljoin(self.path, path), follow=True), status)

    def follow(self, words: str) -> None:
        """The link that says this."""
        self.open(self.page.way(words))

    def press(self, words: str, typed: Mapping[str, object] | None = None, *, status: int = 200) -> None:
        """Fill in the form of this button by its fields' names or labels, and send it as a browser does."""
        self._take(self._sent(words, typed or {}), status)

    def paper(self, words: str) -> str:
        """Press a button that answers with a paper, and read it; the page stays."""
        answer = self._sent(words, {})
        assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf", answer
        words = "\n".join(texts(answer.content))
        self.heard.append(words)
        return words

    def says(self, *words: str) -> None:
        for one in words:
            assert one in self.text, f"{one!r} is not on {self.path}: {self.text}"

    def _sent(self, words: str, typed: Mapping[str, object]) -> Any:
        form, button = self.page.form_with(words)
        sent: dict[str, Any] = {**form.typed}
        for label, reported in typed.items():
            name = form.name_of(label)
            sent[name] = reported if isinstance(reported, SimpleUploadedFile) else form.value_of(name, reported)
        if button.name:
            sent[button.name] = button.value
        address = urljoin(self.path, form.action or self.path)
        if form.method == "get":
            return self.client.get(f"{address.partition('?')[0]}?{urlencode(sent, doseq=True)}", follow=True)
        return self.client.post(address, sent, follow=True)

    def _take(self, answer: Any, status: int) -> None:
        asked = answer.request
        self.path = asked["PATH_INFO"] + (f"?{asked['QUERY_STRING']}" if asked.get("QUERY_STRING") else "")
        self.heard.append(answer.content.decode())
        self.page = Page(self.heard[-1])
        assert answer.status_code == status, f"{self.path} answered {answer.status_code}: {self.text[:3000]}"
