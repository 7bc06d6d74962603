"""The port to listen on: one server each, and it says which one is taken.

The production server shares its port between its processes, so the kernel would let a second server share it
too, and each request would be answered by either. So the port is tried without sharing, and a lock closes the
moment between that try and the listening.
"""

from __future__ import annotations

import argparse
import errno
import os
import socket
import tempfile
from contextlib import suppress
from ipaddress import ip_address
from pathlib import Path
from random import randrange
from time import monotonic, sleep

from django.core.management.base import CommandError

from traveller.management import locks

# The processes of a server that was killed end within two seconds of it (management.parent).
PATIENCE_S = 3.0
# Below those that Linux (from 32768) and others (from 49152) give to connections.
NEVER_GIVEN = (20_000, 32_000)


def port(text: str) -> int:
    """An argument as a port, or the reason why it is none."""
    number = int(text) if text.isascii() and text.isdecimal() else 0
    if not 1 <= number <= 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is no port: say a whole number from 1 to 65535, such as 8000.")
    return number


def unused(host: str = "127.0.0.1") -> int:
    """A port on which nobody listens now, of those that the system gives to no connection by itself: for servers that
    are started in a moment, by trials and tests."""
    while True:
        number = randrange(*NEVER_GIVEN)
        with socket.socket() as probe, suppress(OSError):
            probe.bind((host, number))
            return number


def listening_address(host: str) -> str:
    """The host to listen on as the address that the server wants; a name is looked up."""
    bare = host.removeprefix("[").removesuffix("]")
    try:
        return str(ip_address(bare))
    except ValueError:
        pass
    try:
        found = socket.getaddrinfo(bare, None, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise CommandError(
            f"--host {host}: this machine knows no address of that name. Say 127.0.0.1 (this machine alone), "
            "0.0.0.0 (every network it is on) or one of its own addresses."
        ) from error
    return str(min(found, key=lambda each: each[0] != socket.AF_INET)[4][0])


def claim(host: str, number: int, who: str, patience_s: float = PATIENCE_S) -> None:
    """Keep this port for this process, or refuse in words; asked again, it only looks whether it is still free."""
    try:
        locks.hold_lock(_lock_file(number), who)
    except locks.Taken as taken:
        raise CommandError(_taken(number, taken.who)) from None
    except OSError:
        pass  # no place for the lock, or somebody else's: the try below is still made
    until = monotonic() + patience_s
    while (fault := _fault(host, number)) is not None:
        if fault.errno != errno.EADDRINUSE:
            raise CommandError(_words(host, number, fault))
        if monotonic() >= until:
            raise CommandError(_taken(number, ""))
        sleep(0.1)


def _fault(host: str, number: int) -> OSError | None:
    """What hinders listening there, without sharing the port with anybody."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        # Connections of a server that has just ended do not count; a socket that listens does.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, number))
            probe.listen(1)
        except OSError as error:
            return error
    return None


def _lock_file(number: int) -> Path:
    """One for each user: the kernel lets only processes of one user share a port."""
    return Path(tempfile.gettempdir()) / f"traveller-{os.getuid()}-port-{number}.lock"


def _taken(number: int, who: str) -> str:
    whose = f" by a server of this program ({who})" if who else " by another program"
    return f"Port {number} is taken{whose}. Stop that one, or choose another port with --port."


def _words(host: str, number: int, fault: OSError) -> str:
    if fault.errno == errno.EACCES:
        return f"Port {number} may not be used by this user: ports below 1024 belong to the system. Choose another."
    if fault.errno == errno.EADDRNOTAVAIL:
        return f"--host {host} is no address of this machine. Say 127.0.0.1, 0.0.0.0 or one of its own addresses."
    return f"Nothing can listen on {host}, port {number}: {fault.strerror}. Choose another with --host and --port."
