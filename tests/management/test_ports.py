"""A port has one listener: whoever comes second is refused in words, however the first listens."""

from __future__ import annotations

import argparse
import fcntl
import socket
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.core.management.base import CommandError

from traveller.management import locks, ports


@pytest.fixture(autouse=True)
def _own_lock_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    yield
    for file in tmp_path.glob("*.lock"):
        locks.let_lock_go(file)


def listener(host: str, port: int) -> socket.socket:
    """Somebody who listens there and would share the port, as the production server does."""
    sock = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
    sock.bind((host, port))
    sock.listen()
    return sock


@pytest.mark.parametrize("second", ["127.0.0.1", "0.0.0.0", "::"])
@pytest.mark.parametrize("first", ["127.0.0.1", "0.0.0.0", "::"])
def test_a_listener_that_would_share_is_found(first: str, second: str) -> None:
    port = ports.unused()
    with listener(first, port), pytest.raises(CommandError, match=f"Port {port} is taken by another program"):
        ports.claim(second, port, "me", patience_s=0.2)


def test_a_free_port_is_claimed_and_claimed_again_by_the_same_process() -> None:
    port = ports.unused()
    ports.claim("127.0.0.1", port, "me")
    ports.claim("127.0.0.1", port, "me")
    listener("127.0.0.1", port).close()


def test_a_connection_that_has_just_ended_does_not_hold_the_port() -> None:
    port = ports.unused()
    with listener("127.0.0.1", port) as server:
        caller = socket.create_connection(("127.0.0.1", port))
        server.accept()[0].close()  # the server ends first: its side of the connection lingers
        assert caller.recv(1) == b""
        caller.close()
    ports.claim("127.0.0.1", port, "me", patience_s=0)


def test_who_claimed_the_port_first_is_named_before_it_listens(tmp_path: Path) -> None:
    port = ports.unused()
    file = ports._lock_file(port)
    assert file.parent == tmp_path
    with file.open("w") as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        other.write("serve, process 7")
        other.flush()
        with pytest.raises(CommandError, match=rf"Port {port} is taken .*\(serve, process 7\)"):
            ports.claim("127.0.0.1", port, "me")


def test_an_address_of_another_machine_is_refused_in_words() -> None:
    with pytest.raises(CommandError, match=r"192\.0\.2\.7 is no address of this machine"):
        ports.claim("192.0.2.7", ports.unused(), "me")


@pytest.mark.parametrize(
    ("given", "meant"),
    [("127.0.0.1", "127.0.0.1"), ("[::1]", "::1"), ("::", "::"), ("localhost", "127.0.0.1")],
)
def test_a_host_is_an_address_or_a_name_that_is_looked_up(given: str, meant: str) -> None:
    assert ports.listening_address(given) == meant


def test_a_host_that_nobody_knows_is_refused_in_words() -> None:
    with pytest.raises(CommandError, match="knows no address of that name"):
        ports.listening_address("no such host")


@pytest.mark.parametrize("text", ["0", "65536", "-1", "80a", "", "８０", "8000.0"])
def test_what_is_no_port_is_refused_in_words(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError, match="whole number from 1 to 65535"):
        ports.port(text)


def test_a_port_is_a_number() -> None:
    assert [ports.port(text) for text in ("1", "8010", "65535")] == [1, 8010, 65535]


def test_an_unused_port_is_never_one_that_the_system_gives_to_a_connection() -> None:
    least = int(Path("/proc/sys/net/ipv4/ip_local_port_range").read_text(encoding="ascii").split()[0])
    drawn = {ports.unused() for _ in range(50)}
    assert len(drawn) > 10 and max(drawn) < least
