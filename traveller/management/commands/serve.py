"""`manage.py serve`: the production server, with its static files."""

from __future__ import annotations

import os
from ipaddress import ip_address
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from traveller.decode.slots import slot
from traveller.management import clock, owner, ports, private
from traveller.management.parent import imported_once
from traveller.management.ready import ready_database
from traveller.management.work.behind import working
from traveller.management.work.run import LANES_NEED

COLLECT_WITHIN_S = 60.0
NO_ADDRESS = """\
TRAVELLER_ADDRESS is not set. Say at which address phones reach this server, for example
  TRAVELLER_ADDRESS=https://trace.example
and settle it before the first print: every traveller carries it, and paper outlives this program's releases.
It must be https: on plain http a phone can neither keep counts while it is offline nor open its camera to
scan, and passwords and passes would cross the network in the clear.
To try the program on this machine alone: manage.py demo, or TRAVELLER_ADDRESS=http://127.0.0.1:8000."""

NO_ENCRYPTION = """\
TRAVELLER_ADDRESS is https, but nothing here speaks https yet. Either give this server its certificate
(--certificate FILE --key FILE), or put a proxy before it and name the header by which the proxy tells
that a request came by https, for example TRAVELLER_PROXY_HEADER=X-Forwarded-Proto. The proxy must set
that header on every request, or a stranger could set it."""

DEBUG_IN_PUBLIC = """\
TRAVELLER_DEBUG is 1: after a fault everybody would see the program's insides, with its settings and what was sent.
It is for this machine alone (--host 127.0.0.1, TRAVELLER_ADDRESS=http://127.0.0.1:8000). Unset it to serve others."""

NO_PROXIES = """\
A proxy stands before this server, but TRAVELLER_PROXIES does not say how many: everybody behind it shares one
count of wrong passwords, so that one who guesses shuts out all. Set TRAVELLER_PROXIES=1 for a single proxy that
adds the caller's address to X-Forwarded-For."""


KILL_AFTER_S = 10


class Command(BaseCommand):
    help = "Serves the pages: granian with whitenoise, several processes and threads."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default 127.0.0.1)")
        parser.add_argument("--port", type=ports.port, default=settings.PORT, help="port to listen on")
        parser.add_argument("--workers", type=int, default=2, help="processes (default 2)")
        parser.add_argument("--threads", type=int, default=4, help="threads in each process (default 4)")
        parser.add_argument("--clock-was-wrong", metavar="WHY", help="start although the journal is ahead of the clock")
        parser.add_argument("--migrate", action="store_true", help="bring the database up to date first")
        parser.add_argument("--certificate", type=Path, help="certificate file (PEM), to speak https itself")
        parser.add_argument("--key", type=Path, help="the certificate's key file (PEM)")

    def handle(self, *args: Any, **options: Any) -> None:
        reported = prepare(options)
        self.say(options, [*reported, *notes()])
        _start()
        with working():
            clock.watch()
            run(options)

    def say(self, options: dict[str, Any], lines: list[str]) -> None:
        """Where it is served, and what else there is to say."""
        self.stdout.write(f"Serving {settings.PUBLIC_ADDRESS} from {options['host']}:{options['port']}")
        for note in lines:
            self.stdout.write(note)
        self.stdout.write("Stop with Ctrl-C.")
        self.stdout.flush()


def prepare(options: dict[str, Any]) -> list[str]:
    """All that can be refused, before anything listens: settings, port, database, its owner, the clock.

    Returns what is worth telling all the same.
    """
    refuse_unready(options)
    options["host"] = ports.listening_address(options["host"])
    claim(options["host"], options["port"])
    ready_database(migrate=options["migrate"])
    # The demo's story is invented, its times too.
    reported = None if settings.DEMO else clock.refuse_behind(options["clock_was_wrong"])
    collect_static()
    return [*([reported] if reported else []), *private.tighten()]


def collect_static() -> None:
    """Put the static files where they are served from; one process at a time, since servers on one PostgreSQL may
    share a data folder, and each writes the files anew."""
    with slot(settings.DECODE_PLACE, ("static",), COLLECT_WITHIN_S):
        call_command("collectstatic", interactive=False, verbosity=0)


def _start() -> None:
    """What the processes that start from here on, the server's and the work's, have in common."""
    connection.close()  # the processes that start from here on open their own
    imported_once((settings.ROOT_URLCONF, *LANES_NEED))


def claim(host: str, port: int) -> None:
    """The port and the database are this process's own until it ends, or somebody else's: that is refused."""
    what = "demo" if settings.DEMO else "serve"
    ports.claim(host, port, owner.whoami(f"{what} --port {port}"))
    owner.own(f"{what} on port {port}")


def notes() -> list[str]:
    """What works, but not as well as it should."""
    return [NO_PROXIES] if settings.PROXY_HEADER and not settings.PROXY_COUNT else []


def refuse_unready(options: dict[str, Any]) -> None:
    """Refuse, in words, to serve at an address that is unknown or not protected."""
    address = settings.PUBLIC_ADDRESS
    if address is None:
        raise CommandError(NO_ADDRESS)
    if bool(options["certificate"]) != bool(options["key"]):
        raise CommandError("--certificate and --key belong together: give both or neither.")
    for file in (options["certificate"], options["key"]):
        if file and not file.is_file():
            raise CommandError(f"There is no file {file}.")
    if address.startswith("https:") and not options["certificate"] and not settings.PROXY_HEADER:
        raise CommandError(NO_ENCRYPTION)
    if settings.DEBUG and not (loopback(urlsplit(address).hostname or "") and loopback(options["host"])):
        raise CommandError(DEBUG_IN_PUBLIC)
    if not settings.SERVING:
        raise CommandError("Start it as `python3 manage.py serve`, so that the settings know it is for real.")


def loopback(host: str) -> bool:
    """Does only this machine itself reach that address?"""
    bare = host.removeprefix("[").removesuffix("]")
    try:
        return ip_address(bare).is_loopback
    except ValueError:
        return bare == "localhost"


def run(options: dict[str, Any]) -> None:
    """Start the server's processes and wait until they are told to stop."""
    if options["certificate"]:
        os.environ["TRAVELLER_TLS"] = "1"  # the processes that start now read it with their settings
    from granian import Granian
    from granian.constants import Interfaces

    server = Granian(
        "traveller.wsgi:application",
        address=options["host"],
        port=options["port"],
        interface=Interfaces.WSGI,
        workers=options["workers"],
        blocking_threads=options["threads"],
        websockets=False,
        ssl_cert=options["certificate"],
        ssl_key=options["key"],
        respawn_failed_workers=True,
        # One that is told to stop in the moment of its birth does not hear it.
        workers_kill_timeout=KILL_AFTER_S,
    )
    try:
        server.serve()
    except RuntimeError as error:
        # Somebody else took the port in the last moment; behind the first line stands a list of addresses.
        raise CommandError(f"The server could not start: {str(error).splitlines()[0]}.") from None
