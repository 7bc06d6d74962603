#!/usr/bin/env python3
"""Runs the project's commands, after making the environment that they need beside itself.

Until that environment exists this file may use nothing but Python's own library.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import importlib.util
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NoReturn

PYTHON_MIN = (3, 11)
ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
VENV_PYTHON = VENV / "bin" / "python"
LOCK = "requirements.lock"
AGAIN_S = 0.05
# What stands behind this line of the lock is for the tests alone.
LOCK_MARK = "# --- Only the tests need what follows ---"
# Settings of the caller's own Python that would leak into the environment or send packages elsewhere.
FOREIGN = ("PYTHONPATH", "PYTHONHOME", "PIP_USER", "PIP_TARGET", "PIP_PREFIX", "PIP_REQUIRE_VIRTUALENV")
# Commands whose files are meant for more than the data folder; what all others write is for this user alone.
FOR_OTHERS = ("export_workbook", "makemigrations", "messages", "test", "bench")
NO_NETWORK = (
    "NewConnectionError",
    "name resolution",
    "Name or service not known",
    "Network is unreachable",
    "timed out",
    "ProxyError",
    "Connection refused",
)
# pip's own words when a file is not the one whose digest is locked.
WRONG_DIGEST = "DO NOT MATCH THE HASHES"


def main() -> None:
    """Run the command; Ctrl-C ends it with a sentence."""
    try:
        run()
    except KeyboardInterrupt:
        say(f"\nmanage.py: {' '.join(sys.argv[1:2]) or 'it'} was stopped before it was done. Start it again as before.")
        sys.exit(130)


def lose_no_interrupt() -> None:
    """Where Python itself drops the exception that Ctrl-C is (while it sweeps its memory), send it once more."""

    def dropped(what: sys.UnraisableHookArgs) -> None:
        if issubclass(what.exc_type, KeyboardInterrupt):
            # Not here, where it would be dropped again.
            signal.setitimer(signal.ITIMER_REAL, AGAIN_S)
        else:
            sys.__unraisablehook__(what)

    sys.unraisablehook = dropped
    signal.signal(signal.SIGALRM, lambda number, frame: os.kill(os.getpid(), signal.SIGINT))


def run() -> None:
    """Run the command here when this is our environment, else make the environment and start again in it."""
    refuse_machine()
    testing = sys.argv[1:2] == ["test"]
    if not inside() or (stamp("core").exists() and not installed(testing)):
        try:
            with alone():
                if not installed(testing):
                    install(testing)
        except OSError as error:
            stop(f"{error.filename or VENV}: {error.strerror}. The folder of manage.py must be writable once.")
        restart()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "traveller.settings")
    if sys.argv[1:2] and sys.argv[1] not in FOR_OTHERS:
        os.umask(0o077)
    # Before the settings are read: the demo has its own database and prints the port it is told to listen on,
    # serving has collected static files.
    if sys.argv[1:2] == ["demo"]:
        os.environ["TRAVELLER_DEMO"] = "1"
        if (port := port_reported(sys.argv[2:])) is not None:
            os.environ["TRAVELLER_PORT"] = port
    if sys.argv[1:2] in (["demo"], ["serve"]):
        os.environ["TRAVELLER_SERVING"] = "1"
    execute()


def refuse_machine() -> None:
    """End with a sentence on a machine that this program can't run on."""
    if os.name == "nt":
        stop(
            "this program needs Linux, macOS or another Unix: its locks and the limits on what strangers send do not "
            "exist on Windows. On a Windows machine run it in the Windows Subsystem for Linux (wsl --install), and "
            "start it there in the same way; or on any small Linux machine."
        )
    if sys.version_info < PYTHON_MIN:
        stop(
            f"This program needs Python {PYTHON_MIN[0]}.{PYTHON_MIN[1]} or newer; "
            f"this is Python {sys.version.split()[0]} ({sys.executable})."
        )


def execute() -> None:
    """Hand the command to the framework; what the machine or the settings refuse ends it with a sentence."""
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line
    from django.db import InterfaceError, OperationalError

    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as error:
        stop(str(error))
    except BrokenPipeError:  # whoever read what is printed has read enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except (OSError, OperationalError, InterfaceError) as error:
        if "--traceback" in sys.argv:
            raise
        from traveller.management.faults import fault_words

        stop(fault_words(error))


def port_reported(arguments: list[str]) -> str | None:
    """The port among these arguments, however it is written; the command itself refuses what is none."""
    parser = argparse.ArgumentParser(add_help=False, exit_on_error=False)
    parser.add_argument("--port")
    try:
        port: str | None = parser.parse_known_args(arguments)[0].port
    except argparse.ArgumentError:  # --port without a number
        return None
    return port if port and port.isascii() and port.isdecimal() else None


def stop(words: str) -> NoReturn:
    """End with a sentence instead of a traceback."""
    sys.exit(f"manage.py: {words}")


def inside() -> bool:
    """Is this process the environment's own Python?"""
    return Path(sys.prefix).resolve() == VENV.resolve()


def wanted(testing: bool) -> list[str]:
    """The packages pyproject.toml asks for; which versions and files of them, the lock says."""
    import tomllib  # from 3.11 on: above the version check it would end in a traceback

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [*project["dependencies"], *(project["optional-dependencies"]["test"] if testing else [])]


def locked(testing: bool) -> str:
    """What pip installs: the lock up to its mark, or with what the tests need besides."""
    try:
        text = (ROOT / LOCK).read_text(encoding="utf-8")
    except FileNotFoundError:
        stop(f"{LOCK} is missing beside manage.py: it says which packages are installed. Take it from this release.")
    return text if testing else text.partition(f"\n{LOCK_MARK}\n")[0] + "\n"


def stamp(kind: str) -> Path:
    """The file that says what was installed completely; without any, the environment is half-made."""
    return VENV / f"traveller-{kind}.stamp"


def stamp_text(testing: bool) -> str:
    """The Python version and a digest of the packages: when either changes, the stamp is stale."""
    digest = hashlib.sha256("\n".join([*wanted(testing), locked(testing)]).encode()).hexdigest()
    return f"{sys.version.split()[0]}\n{digest}\n"


def installed(testing: bool) -> bool:
    """Is everything there that this command needs?"""
    mark = stamp("test" if testing else "core")
    return VENV_PYTHON.exists() and mark.exists() and mark.read_text(encoding="ascii") == stamp_text(testing)


@contextlib.contextmanager
def alone() -> Iterator[None]:
    """Let one process at a time make the environment; the others wait for it."""
    import fcntl  # not on Windows, which is refused in words first

    with open(ROOT / ".venv.lock", "w", encoding="ascii") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Another process is making .venv; waiting for it.")
            fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def install(testing: bool) -> None:
    """Make .venv where there is no sound one, and install what is missing in it."""
    pip = [str(VENV_PYTHON), "-m", "pip"]
    if not sound():
        pip = make()
    elif subprocess.run([*pip, "--version"], capture_output=True, env=environment()).returncode != 0:
        pip = outer_pip()
    text = locked(testing)
    say(f"Installing the packages of {LOCK} into .venv (once; needs the network):")
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / LOCK
        file.write_text(text, encoding="utf-8")
        fixed = ["--no-input", "--disable-pip-version-check", "--retries", "2", "--require-hashes"]
        run_pip([*pip, "install", *fixed, "-r", str(file)])
    kinds = ["core", "test"] if testing else ["core"]
    for kind in kinds:
        stamp(kind).write_text(stamp_text(kind == "test"), encoding="ascii")
    say("Installed.")


def sound() -> bool:
    """Is there an environment that was once complete, of this very Python? Then installing more is enough."""
    mark = stamp("core")
    version = sys.version.split()[0]
    return VENV_PYTHON.exists() and mark.exists() and mark.read_text(encoding="ascii").startswith(version + "\n")


def make() -> list[str]:
    """Make an empty environment and return the pip command that fills it."""
    if importlib.util.find_spec("venv") is None:
        stop(
            "this Python has no venv module. Install it (on Debian and Ubuntu: apt install python3-venv) "
            "and start again."
        )
    if VENV.exists():
        say("Removing a .venv that is unfinished or of another Python.")
        shutil.rmtree(VENV)
    own_pip = importlib.util.find_spec("ensurepip") is not None
    pip = [str(VENV_PYTHON), "-m", "pip"] if own_pip else outer_pip()
    say(f"Making .venv with Python {sys.version.split()[0]}.")
    made = subprocess.run(
        [sys.executable, "-m", "venv", *([] if own_pip else ["--without-pip"]), str(VENV)],
        env=environment(),
        capture_output=True,
        text=True,
    )
    if made.returncode != 0:
        shutil.rmtree(VENV, ignore_errors=True)
        stop(f"the environment could not be made:\n{(made.stdout + made.stderr).strip()}")
    return pip


def outer_pip() -> list[str]:
    """The caller's own pip, told to install into our environment."""
    if importlib.util.find_spec("pip") is None:
        stop(
            "this Python can install no packages: it has neither ensurepip nor pip. "
            "On Debian and Ubuntu: apt install python3-venv; then start again."
        )
    return [sys.executable, "-m", "pip", "--python", str(VENV_PYTHON)]


def run_pip(command: list[str]) -> None:
    """Run pip, naming each package as it comes; on failure say in words what is wrong."""
    lines: list[str] = []
    with subprocess.Popen(
        command, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as pip:
        assert pip.stdout is not None
        for line in pip.stdout:
            lines.append(line)
            if line.startswith("Collecting "):
                sys.stderr.write(f"  {re.split('[<>~=[;]', line.split()[1])[0]}")
                sys.stderr.flush()
    sys.stderr.write("\n")
    if pip.returncode != 0:
        text = "".join(lines)
        if any(sign in text for sign in NO_NETWORK):
            stop("the package index cannot be reached. Connect this machine to the network and start again.")
        if WRONG_DIGEST in text:
            stop(
                f"a package that came from the index is not the one that {LOCK} names: its digest differs. Nothing "
                "was installed. Start again; if it stays so, find out what stands between this machine and the index."
            )
        stop(f"the packages could not be installed. pip's last words:\n{''.join(lines[-8:]).rstrip()}")


def environment() -> dict[str, str]:
    """The caller's environment without what belongs to another Python."""
    return {name: value for name, value in os.environ.items() if name not in FOREIGN}


def restart() -> None:
    """Run the same command with the environment's Python, in place of this process."""
    command = [str(VENV_PYTHON), str(ROOT / "manage.py"), *sys.argv[1:]]
    sys.stdout.flush()
    os.execve(command[0], command, environment())


def say(words: str) -> None:
    """A line of progress, apart from what the command itself prints."""
    print(words, file=sys.stderr, flush=True)


if __name__ == "__main__":
    lose_no_interrupt()
    main()
