"""`manage.py demo`: the whole job with invented data, from a workbook to shipped cartons, then the pages."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from pathlib import Path
from time import monotonic
from typing import Any
from uuid import uuid5

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.utils import timezone

from sites.actions.make_pass import make_pass
from sites.actor import Actor
from sites.models import Site
from traveller.batches.reads.begun import has_begun
from traveller.batches.reads.queries import Lie, Whereabouts, open_batches, whereabouts
from traveller.exchange.workbook import import_workbook, stopped_by
from traveller.journal.background import at_once
from traveller.journal.event_context import EventContext
from traveller.management import owner, ports
from traveller.management.commands.serve import claim, refuse_unready
from traveller.management.demo.papers import write_papers
from traveller.management.demo.story import Story, day_0
from traveller.management.demo.teller import STORY
from traveller.products import frozen
from traveller.rules.codes import show_code
from traveller.web.door_views import new_token, sign_in_link
from traveller.web.words import CONDITIONS

WORKBOOK = settings.ROOT / "fixtures" / "demo"
HOST = "127.0.0.1"
FIRST_DAY_IN_FILES = date(2026, 1, 5)


class Command(BaseCommand):
    help = "Plays some weeks of an invented lantern maker, prints where everything is, and serves the pages."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="end before serving the pages")
        parser.add_argument("--port", type=ports.port, default=settings.PORT, help="port to listen on")
        parser.add_argument("--now", help="the moment at which the story ends (ISO; default: this moment)")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("Start it as `python3 manage.py demo`: it keeps to a database of its own.")
        self.play(options)
        if not options["no_serve"]:
            call_command("serve", migrate=True, host=HOST, port=options["port"])

    def play(self, options: dict[str, Any]) -> None:
        """All but the pages: the story, its papers, the links."""
        began = monotonic()
        now = datetime.fromisoformat(options["now"]) if options["now"] else timezone.now()
        if now.tzinfo is None:
            raise CommandError("--now needs a zone, such as 2026-11-25T15:00+00:00.")
        # Before anything is deleted: another demo may be running on this very file.
        if options["no_serve"]:
            owner.own("demo --no-serve")
        else:
            refuse_unready({"host": HOST, "certificate": None, "key": None})
            claim(HOST, options["port"])
        afresh()
        self.stdout.write("Importing the workbook in fixtures/demo ...")
        self.read_workbook(now)
        self.stdout.write("Playing four weeks of production ...")
        story = Story(now)
        # In the story's own time: what a worker would do by the clock is done where it is asked for.
        with at_once():
            story.tell()
        where = whereabouts(open_batches())
        self.table(where, now)
        folder = settings.DATA / "demo-papers"
        papers = write_papers(story.t, where, folder, settings.PUBLIC_ADDRESS or "", now.date())
        self.stdout.write(f"\n{len(papers)} papers written to {_short(folder)}, among them:")
        for path in papers[:2] + papers[-1:]:
            self.stdout.write(f"  {_short(path)}")
        self.links(now)
        self.stdout.write(f"\nReady after {monotonic() - began:.0f} s.")

    def read_workbook(self, now: datetime) -> None:
        shift = (day_0(now.date()) - FIRST_DAY_IN_FILES).days
        start = datetime.combine(day_0(now.date()), time(12), tzinfo=UTC)
        event_context = EventContext(
            uid=uuid5(STORY, "workbook"), at=start, recorded_at=start, actor=Actor("founder", "founder")
        )
        report = import_workbook(WORKBOOK, event_context=event_context, shift_days=shift)
        if why := stopped_by(report):
            raise CommandError("\n".join(str(problem) for problem in why))

    def table(self, where: list[Whereabouts], now: datetime) -> None:
        self.stdout.write("\nWhere every batch is")
        self.stdout.write(f"  {'Batch':10} {'What':22} {'Where':34} {'Pieces':>7}  {'Since':10} Held")
        for row in where:
            lies: list[Lie | None] = [*row.lies] or [None]
            for number, lie in enumerate(lies):
                code = show_code(row.batch.code) if number == 0 else ""
                title = row.batch.part.title if number == 0 else ""
                if lie is None:
                    step = row.current
                    word = "waits for" if has_begun(row) else "starts at"
                    place, pieces, since = f"{word} {step.site.name}" if step else "-", row.batch.start, ""
                else:
                    words = lie.verb or str(CONDITIONS[lie.condition])
                    place, pieces = f"{lie.site}, {words}", lie.quantity
                    since = f"{(now - lie.since).days} d" if lie.since else ""
                held = "held" if row.holds and number == 0 else ""
                self.stdout.write(f"  {code:10} {title[:22]:22} {place[:34]:34} {pieces:7,}  {since:10} {held}")

    def links(self, now: datetime) -> None:
        """One link for each reader; a pass's token exists only here and in the phone that opens it."""
        address = settings.PUBLIC_ADDRESS
        self.stdout.write("\nSign in (each link is good for one reader; founder's once):")
        founder, _ = get_user_model().objects.get_or_create(username="founder")
        self.stdout.write(f"  founder                          {address}{sign_in_link(founder)}")
        shops = Site.objects.filter(kind__in=["subcontractor", "own"]).order_by("kind", "name")
        for site in shops:
            made = make_pass(site=site, kind="operator", token=new_token(), at=now, label="demo")
            self.stdout.write(f"  operator, {site.name[:22]:22} {address}/pass/{made.token}")
        bench = Site.objects.get(kind="own")
        made = make_pass(site=bench, kind="packing", token=new_token(), at=now, label="demo")
        self.stdout.write(f"  packer, {bench.name[:24]:24} {address}/pass/{made.token}")


def afresh() -> None:
    """An empty database in the demo's own file; a real one has another name and is never touched."""
    connection.close()
    name = Path(settings.DATABASES["default"]["NAME"])
    if name.name != "demo.sqlite3":
        raise CommandError(f"The demo keeps to demo.sqlite3, not {name}.")
    for path in (name, *(name.with_name(name.name + tail) for tail in ("-wal", "-shm", ".queue"))):
        path.unlink(missing_ok=True)
    frozen.forget()
    call_command("migrate", interactive=False, verbosity=0)


def _short(path: Path) -> str:
    return str(path.relative_to(settings.ROOT)) if path.is_relative_to(settings.ROOT) else str(path)
