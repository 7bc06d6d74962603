"""What a reader finds on a page: sentences, tags and tables, with their text; nothing of pictures and of fields."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"area", "base", "br", "col", "hr", "img", "input", "link", "meta", "source", "wbr"}
UNREAD = {"svg", "script", "style", "select", "textarea", "label", "template"}
BLOCKS = {
    "a.button", "article", "aside", "button", "caption", "dd", "details", "div", "dl", "dt", "figcaption", "figure",
    "footer", "form", "h1", "h2", "h3", "h4", "header", "legend", "li", "main", "nav", "ol", "p", "section", "summary",
    "table", "ul",
}  # fmt: skip


@dataclass
class Node:
    """An element with what stands in it."""

    tag: str
    of: dict[str, str]
    inside: list[Node | str] = field(default_factory=list)

    def has(self, css: str) -> bool:
        return css in self.of.get("class", "").split()

    def every(self, *tags: str) -> list[Node]:
        """All such elements in it, in the order of the page."""
        found = []
        for one in self.inside:
            if isinstance(one, Node):
                found += [one] if one.tag in tags else []
                found += one.every(*tags)
        return found

    def links(self) -> list[str]:
        own = [self.of["href"]] if self.tag == "a" and "href" in self.of else []
        return own + [one.of.get("href", "") for one in self.every("a")]


class _Reader(HTMLParser):
    """Builds the tree; what is not closed in its turn is a fault of the page."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open = [Node("page", {})]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        node = Node(tag, {name: value or "" for name, value in attrs})
        self.open[-1].inside.append(node)
        if tag not in VOID:
            self.open.append(node)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].inside.append(Node(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        if self.open[-1].tag != tag:
            raise ValueError(f"</{tag}> closes <{self.open[-1].tag}>")
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].inside.append(data)


def text_of(node: Node | str) -> str:
    """All words in it, as they are read aloud: one blank between words, plain hyphens."""
    return " ".join(_words(node).replace("\u2011", "-").replace("\u00a0", " ").split())


def _words(node: Node | str) -> str:
    if isinstance(node, str):
        return node
    if node.tag in UNREAD:
        return ""
    if node.tag == "br":
        return " "
    return "".join(_words(one) for one in node.inside)


@dataclass(frozen=True)
class Sentence:
    """Words between two breaks: under which heading, in what, with which links."""

    section: str
    tag: str
    text: str
    links: tuple[str, ...] = ()


@dataclass(frozen=True)
class Tag:
    """A tie-on tag: its word, its sentence, where its deed leads."""

    word: str
    text: str
    link: str


@dataclass(frozen=True)
class Table:
    """Rows by the headings of their columns; `links` has the first link of each cell."""

    section: str
    columns: tuple[str, ...]
    rows: tuple[dict[str, str], ...]
    links: tuple[dict[str, str], ...]


@dataclass(frozen=True)
class Page:
    address: str
    sentences: tuple[Sentence, ...]
    tags: tuple[Tag, ...]
    tables: tuple[Table, ...]

    def table(self, *columns: str, section: str = "") -> Table | None:
        """The first table with these columns, in a section whose heading begins so."""
        for one in self.tables:
            if set(columns) <= set(one.columns) and one.section.startswith(section):
                return one
        return None

    @property
    def headline(self) -> str:
        return next((one.text for one in self.sentences if one.tag == "h1"), "")


def read(address: str, html: str) -> Page:
    """The page's own part, between its navigation and its foot."""
    reader = _Reader()
    # Drawings are most of a page's bytes, and are not read.
    reader.feed(re.sub(r"<svg\b.*?</svg>", "", html, flags=re.DOTALL))
    mains = reader.open[0].every("main")
    if len(mains) != 1:
        raise ValueError(f"{address}: {len(mains)} main parts")
    taken = _Taken()
    taken.walk(mains[0])
    return Page(address, tuple(taken.sentences), tuple(taken.tags), tuple(taken.tables))


class _Taken:
    """Walks once through a page and sorts what it finds."""

    def __init__(self) -> None:
        self.sentences: list[Sentence] = []
        self.tags: list[Tag] = []
        self.tables: list[Table] = []
        self.section = ""

    def walk(self, node: Node) -> None:
        if node.tag in UNREAD:
            return
        if node.tag == "table":
            self.tables.append(_table(node, self.section))
            return
        if node.tag == "li" and node.has("tie"):
            self.tags.append(_tag(node))
            return
        outer = self.section
        if node.tag == "section":
            headings = node.every("h2")
            self.section = text_of(headings[0]) if headings else ""
        run: list[Node | str] = []
        for one in node.inside:
            if isinstance(one, Node) and _breaks(one):
                self._say(node, run)
                run = []
                self.walk(one)
            else:
                run.append(one)
        self._say(node, run)
        self.section = outer

    def _say(self, node: Node, run: list[Node | str]) -> None:
        text = text_of(Node("run", {}, run))
        if re.search(r"\w", text):
            links = tuple(link for one in run if isinstance(one, Node) for link in one.links())
            tag = next((f"{node.tag}.{css}" for css in ("as-of",) if node.has(css)), node.tag)
            self.sentences.append(Sentence(self.section, tag, text, links))


def _breaks(node: Node) -> bool:
    """Is it a block of its own, or does it have one in it?"""
    return node.tag in BLOCKS or node.has("button") or any(one.tag in BLOCKS for one in node.every(*BLOCKS))


def _tag(node: Node) -> Tag:
    word = " ".join(text_of(one) for one in node.every("h2"))
    deeds = [one for one in node.every("a", "button") if one.has("tie-deed")]
    return Tag(word, " ".join(text_of(one) for one in node.every("p")), deeds[0].of.get("href", "") if deeds else "")


def _table(node: Node, section: str) -> Table:
    heads = node.every("thead")
    columns = tuple(text_of(one) for one in heads[0].every("th")) if heads else ()
    rows, links = [], []
    for body in node.every("tbody"):
        for line in body.every("tr"):
            cells = line.every("th", "td")
            if len(cells) != len(columns):
                raise ValueError(f"{section}: {len(cells)} cells under {len(columns)} headings")
            rows.append(dict(zip(columns, map(text_of, cells), strict=True)))
            links.append({name: next(iter(cell.links()), "") for name, cell in zip(columns, cells, strict=True)})
    return Table(section, columns, tuple(rows), tuple(links))
