"""What a phone keeps for the time without a signal: the pages of the site's open tasks, each as the pass sees it.

GET /here/keep answers with pages in groups: one for each task's batch, one for the shop's own pages. The phone says
which version it has (If-None-Match) and which groups (X-Kept); it gets 304 when nothing was told since, and else only
the groups that something was told of, with the names of those that stay. An answer that leaves some for the next one
says so in its version. What a task's page leads to is found by
following its links, so a new page of a step is kept without a line here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from html import unescape
from urllib.parse import urljoin

from django.db.models import Max
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotModified, JsonResponse
from django.urls import reverse
from django.utils.translation import get_language
from django.views.decorators.http import require_safe

from sites.models import Site
from traveller.batches.reads import queries
from traveller.batches.reads.queries import Task
from traveller.dispatches.models import Consignment
from traveller.journal.models import Event
from traveller.products.models import Part
from traveller.web.door_views import choose_person
from traveller.web.keeper_files import pages_release
from traveller.web.language.reader import units
from traveller.web.operator.reviewed import decided_for
from traveller.web.operator.shop import actor_of, at_work, page, site_of
from traveller.web.parts import inside

# A phone's own shelf is small: the most urgent tasks, and what they lead to. Drawing a page costs, and so does the
# wire: one answer brings so many pages, the most urgent first; what is left comes with later ones, fewer at a time.
TASKS_MAX = 24
PAGES_EACH_MAX = 16
PAGES_MAX = 100
PAGES_MORE_MAX = 40
PICTURES_BYTES_MAX = 60_000
SHOP = "shop"
PART = "p"
LINK = re.compile(r'href="((?:/here/|\?)[^"#]+)"')
# Where the pages of a task lead to within the task; what was told, sent or printed is not needed without a signal.
TASK = re.compile(r"/here/(t|step|load|problem)/[^?]+(\?|$)")
# And of the shop's own pages: goods that go, come back, arrive.
GOODS = re.compile(r"/here/(send|return|unannounced|arrival/[^?]+)(\?|$)")
LOAD_IN = re.compile(r"(/here/step/\d+)/load")
INDENT = re.compile(r"\n\s+")
PICTURE = re.compile(r'src="/picture/([^"]+)"')
TOKEN = re.compile(r'(name="csrfmiddlewaretoken" value=")([^"]+)"')


@dataclass(frozen=True, slots=True)
class Wanted:
    """The tasks to be kept, by the code of their batch; the goods that come; the subjects of all that is shown."""

    tasks: dict[str, list[Task]]
    coming: list[Consignment]
    subjects: frozenset[int]


@require_safe
@at_work
def unsent(request: HttpRequest) -> HttpResponse:
    """What this phone has told and not yet sent. The phone's script fills it; the server knows nothing of it."""
    return page(request, "unsent.html", {})


@require_safe
@at_work
def keep(request: HttpRequest) -> HttpResponse:
    """The pages of this site's open tasks that this phone does not have yet."""
    site = site_of(request)
    event = Event.objects.aggregate(last=Max("pk"))["last"] or 0
    reader = _reader(request, site)
    has, whole = _version_of(request, reader)
    if has == event and whole:
        answer: HttpResponse = HttpResponseNotModified()
        version = f"{event}.{reader}"
    else:
        wanted = _wanted(site)
        stay = _unchanged(site, wanted, has, whole, _kept(request)) if has is not None else set()
        drawn = _drawn(request, wanted, stay, PAGES_MAX if has is None or whole else PAGES_MORE_MAX)
        missing = set(wanted.tasks) - stay - set(drawn)
        version = f"{event}{PART if missing else ''}.{reader}"
        found = {"version": version, "site": site.pk, "stay": sorted(stay), **_reported(drawn, wanted)}
        # Named only where there is one: most answers have none.
        decided = decided_for(request)
        answer = JsonResponse({**found, "decided": decided} if decided else found)
    answer["ETag"] = f'"{version}"'
    # The keeper sends the version back by itself, so that no copy needs to lie in the browser.
    answer["Cache-Control"] = "private, no-store"
    return answer


def _reader(request: HttpRequest, site: Site) -> str:
    """All that makes the same page differ, but what was told: site, person, language, release."""
    actor = actor_of(request)
    reported = (site.pk, site.name, actor.person, actor.on_behalf, actor.kind, get_language(), units(), pages_release())
    return sha256(repr(reported).encode()).hexdigest()[:12]


def _version_of(request: HttpRequest, reader: str) -> tuple[int | None, bool]:
    """The last event that the phone's copy knew of, and whether it has all; None when it has none of this reader."""
    reported = request.headers.get("if-none-match", "").strip()
    found = re.fullmatch(rf'(?:W/)?"?(\d{{1,18}})({PART}?)\.{reader}"?', reported)
    return (int(found[1]), not found[2]) if found else (None, False)


def _kept(request: HttpRequest) -> set[str]:
    return set(request.headers.get("x-kept", "")[:2000].split(","))


def _wanted(site: Site) -> Wanted:
    tasks: dict[str, list[Task]] = {}
    for task in queries.tasks_at(site.pk)[:TASKS_MAX]:
        tasks.setdefault(task.batch.code, []).append(task)
    coming = list(Consignment.objects.filter(destination=site, received_at=None).order_by("sent_at")[:TASKS_MAX])
    ready = [account.lot.subject_id for account in queries.lots_waiting_to_be_sent(site.pk)]
    subjects = {task.batch.subject_id for found in tasks.values() for task in found}
    return Wanted(tasks, coming, frozenset([*subjects, *ready, *(row.subject_id for row in coming)]))


def _unchanged(site: Site, wanted: Wanted, since: int, whole: bool, kept: set[str]) -> set[str]:
    """The groups that the phone has and that nothing was told of since."""
    news = Event.objects.filter(pk__gt=since)
    touched = set(news.filter(about__subject__in=wanted.subjects).values_list("about__subject", flat=True))
    groups = {code for code, tasks in wanted.tasks.items() if code in kept and tasks[0].batch.subject_id not in touched}
    has = kept - {SHOP}
    same_list = has == set(wanted.tasks) if whole else has <= set(wanted.tasks)
    if SHOP in kept and same_list and not touched and not news.filter(site=site).exists():
        groups.add(SHOP)
    return groups


def _drawn(request: HttpRequest, wanted: Wanted, stay: set[str], most: int) -> dict[str, dict[str, str]]:
    """The groups that the phone lacks, until there are pages enough for one answer."""
    groups: dict[str, dict[str, str]] = {}
    if SHOP not in stay:
        arrivals = [reverse("here_arrival", args=[row.code]) for row in wanted.coming]
        own = [reverse(name) for name in ("here", "here_unsent", "here_send", "here_unannounced")]
        groups[SHOP] = dict(_pages(request, [*own, *arrivals], GOODS))
        # Another shift may begin without a signal.
        groups[SHOP][reverse("choose_person")] = choose_person(request).content.decode()
    for code, tasks in wanted.tasks.items():
        if code not in stay and sum(map(len, groups.values())) < most:
            starts = [reverse("here_code_step", args=[code, task.step.number]) for task in tasks]
            groups[code] = dict(_pages(request, [*starts, reverse("here_code", args=[code])], TASK))
    return groups


def _reported(groups: dict[str, dict[str, str]], wanted: Wanted) -> dict[str, object]:
    ways = {reverse("here_code", args=[row.code]): reverse("here_arrival", args=[row.code]) for row in wanted.coming}
    pages = [(group, path, text) for group, drawn in groups.items() for path, text in drawn.items()]
    # Pages of a kind stand together: what compresses them sees no further back than some ten pages.
    pages.sort(key=lambda one: (_kind(one[1]), one[0]))
    return {"pages": _one_token(pages), "ways": ways, "pictures": _pictures(text for _group, _path, text in pages)}


def _kind(path: str) -> str:
    """The form of an address: its numbers and codes left out."""
    return re.sub(r"[0-9A-Z]{7}|\d+|\?.*", "", path)


def _pages(request: HttpRequest, starts: Sequence[str], ways: re.Pattern[str]) -> Iterator[tuple[str, str]]:
    """Pages and those that they lead to by such ways, nearest first."""
    waiting, seen = list(starts), set(starts)
    drawn = 0
    while waiting and (drawn < PAGES_EACH_MAX * len(starts)):
        path = waiting.pop(0)
        text = _page(request, path)
        if text is None:
            continue
        drawn += 1
        yield path, text
        for link in _links(path, text, ways):
            if link not in seen:
                seen.add(link)
                waiting.append(link)


def _page(request: HttpRequest, path: str) -> str | None:
    try:
        answer = inside.get(request, path)
    except Http404:
        return None
    # Indents mean nothing to a browser, and every byte of a page is sent over a shop's thin line.
    return INDENT.sub("\n", answer.content.decode()) if answer.status_code == 200 else None


def _links(page: str, text: str, ways: re.Pattern[str]) -> Iterable[str]:
    for found in LINK.findall(text):
        link = urljoin(page, unescape(found))
        if ways.match(link):
            yield link
        load_in = LOAD_IN.fullmatch(link)
        if load_in:
            # A load that was told without a signal comes out by a page that no server has named yet.
            yield f"{load_in[1]}/out"


def _one_token(pages: Sequence[tuple[str, str, str]]) -> list[tuple[str, str, str]]:
    """The same token in every form: each is good for the same cookie, and one alone costs nothing over the wire."""
    token = next((found[2] for _group, _path, text in pages if (found := TOKEN.search(text))), "")
    return [(group, path, TOKEN.sub(rf'\g<1>{token}"', text)) for group, path, text in pages]


def _pictures(texts: Iterable[str]) -> list[str]:
    """Pictures of parts on these pages, as many as a phone fetches lightly."""
    digests = list(dict.fromkeys(digest for text in texts for digest in PICTURE.findall(text)))
    sizes = {part.picture_digest: len(part.picture or b"") for part in Part.objects.filter(picture_digest__in=digests)}
    found, total = [], 0
    for digest in digests:
        total += sizes.get(digest, 0)
        if digest in sizes and total <= PICTURES_BYTES_MAX:
            found.append(reverse("part_picture", args=[digest]))
    return found
