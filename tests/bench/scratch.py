"""A database and a data folder for one measurement, gone when it ends."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import psycopg
from psycopg import sql


@contextmanager
def on_sqlite() -> Iterator[dict[str, str]]:
    """The environment of a process that works on a SQLite file of its own."""
    # Beside the real data, so that commits cost what they cost there; not in a folder that may live in memory.
    home = Path(__file__).resolve().parents[2] / ".data"
    home.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="bench-", dir=home) as folder:
        yield _environment(folder, "")


@contextmanager
def on_postgres(url: str) -> Iterator[dict[str, str]]:
    """The same on a database made for it at this server."""
    name = f"traveller_bench_{os.getpid()}"
    parts = urlsplit(url)
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        try:
            with tempfile.TemporaryDirectory(prefix="bench-") as folder:
                yield _environment(folder, urlunsplit(parts._replace(path=f"/{name}")))
        finally:
            server.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


def _environment(folder: str, url: str) -> dict[str, str]:
    own = {"TRAVELLER_DATA": folder, "DATABASE_URL": url, "TRAVELLER_DEMO": "", "TRAVELLER_SERVING": ""}
    return {**os.environ, **own, "TRAVELLER_ADDRESS": "", "DJANGO_SETTINGS_MODULE": "traveller.settings"}
