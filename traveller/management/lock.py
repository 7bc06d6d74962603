"""The dependency lock: its two parts, how it is put together, and where it and pyproject.toml disagree.

`requirements.lock` is one file for pip: first what the product needs, behind MARK what only the tests need besides.
Each package is pinned with the digests of all its files, for every Python and system that the project supports.
manage.py, which may know nothing but Python's own library, parts it at the same line.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

from packaging.markers import Marker
from packaging.requirements import InvalidRequirement, Requirement
from packaging.utils import canonicalize_name
from packaging.version import InvalidVersion, Version

__all__ = ["HEAD", "TESTS_MARK", "Locked", "composed", "disagreements", "parts", "pinned"]

NAME = "requirements.lock"
TESTS_MARK = "# --- Only the tests need what follows ---"
HEAD = """\
# Every package with its digests, for all supported Pythons and systems. Written by `manage.py lock`: do not edit.
# manage.py installs from it; by hand: pip install --require-hashes -r requirements.lock
"""
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
_SYSTEMS = (
    {"sys_platform": "linux", "platform_system": "Linux", "os_name": "posix"},
    {"sys_platform": "darwin", "platform_system": "Darwin", "os_name": "posix"},
)
_MACHINES = ({"platform_machine": "x86_64"}, {"platform_machine": "aarch64"}, {"platform_machine": "arm64"})
SAME = {"implementation_name": "cpython", "platform_python_implementation": "CPython", "extra": ""}
# In uv's notes, the project itself, and the list of the product's part.
_OWN = re.compile(r"\(pyproject\.toml\)$")
_PIN = re.compile(r"^([A-Za-z0-9][\w.\-]*)==([^\s;\\]+)\s*(?:;\s*(.*?))?\s*\\?$")


@dataclass(frozen=True, slots=True)
class Locked:
    """One pin: `via` names the packages that need it, "" the project itself."""

    name: str
    version: str
    marker: str = ""
    digests: int = 0
    via: frozenset[str] = frozenset()


def parts(text: str) -> tuple[str, str]:
    """The product's part and the tests'; ValueError when the line between them is missing."""
    core, mark, tests = text.partition(f"\n{TESTS_MARK}\n")
    if not mark:
        raise ValueError(f'{NAME} has no line "{TESTS_MARK}"')
    return core + "\n", tests


def pinned(text: str) -> list[Locked]:
    """The pins of a part, in their order."""
    found: list[Locked] = []
    for block in blocks(text):
        pin = _PIN.match(block[0])
        if pin is None:
            raise ValueError(f"{NAME}: {block[0]!r} is no pinned package")
        notes = [line.strip().removeprefix("#").strip() for line in block[1:] if line.lstrip().startswith("#")]
        names = [note.removeprefix("via ").strip() for note in notes if note != "via"]
        found.append(
            Locked(
                name=canonicalize_name(pin[1]),
                version=pin[2],
                marker=(pin[3] or "").strip(),
                digests=sum("--hash=sha256:" in line for line in block),
                via=frozenset("" if _OWN.search(name) else canonicalize_name(name) for name in names if name),
            )
        )
    return found


def blocks(text: str) -> list[list[str]]:
    """The lines of each package: the pin, its digests, the notes of who needs it."""
    found: list[list[str]] = []
    for line in text.splitlines():
        if line and not line[0].isspace() and not line.startswith("#"):
            found.append([line])
        elif line.strip() and found:
            found[-1].append(line)
    return found


def composed(core: str, whole: str) -> str:
    """The file, from what uv resolved for the product alone and for product and tests together."""
    have = {block[0] for block in blocks(core)}
    tests = [block for block in blocks(whole) if block[0] not in have]
    return f"{HEAD}{_lines(blocks(core))}\n{TESTS_MARK}\n{_lines(tests)}"


def _lines(found: Iterable[Sequence[str]]) -> str:
    return "".join(f"{line}\n" for block in found for line in block)


def disagreements(project: Mapping[str, Any], text: str) -> list[str]:
    """Where pyproject.toml (its table `project`) and the lock do not fit each other, a sentence each.

    What a package needs in turn is known from the lock's own notes only: nothing is asked of the network.
    """
    try:
        core_text, tests_text = parts(text)
        core, tests = pinned(core_text), pinned(tests_text)
        wanted = [Requirement(line) for line in project.get("dependencies", [])]
        for_tests = [Requirement(line) for line in project.get("optional-dependencies", {}).get("test", [])]
    except (ValueError, InvalidRequirement) as error:
        return [str(error)]
    both = [*core, *tests]
    return [
        *(line for one in wanted for line in _unmet(one, core, "")),
        *(line for one in for_tests for line in _unmet(one, both, "for the tests ")),
        *_unneeded(wanted, core),
        *_unneeded([*wanted, *for_tests], tests, core),
        *_unsound(both),
    ]


def environments() -> list[dict[str, str]]:
    """Every Python on every system and machine that the project supports."""
    return [
        {**SAME, **system, **machine, "python_version": python, "python_full_version": f"{python}.4"}
        for python, system, machine in product(PYTHONS, _SYSTEMS, _MACHINES)
    ]


def _holds(marker: str, where: Mapping[str, str]) -> bool:
    return not marker or Marker(marker).evaluate(dict(where))


def _unmet(wanted: Requirement, locked: Sequence[Locked], whom: str) -> Iterable[str]:
    name = canonicalize_name(wanted.name)
    pins = [pin for pin in locked if pin.name == name]
    places = [where for where in environments() if wanted.marker is None or wanted.marker.evaluate(dict(where))]
    if not all(any(_holds(pin.marker, where) for pin in pins) for where in places):
        everywhere = "" if not pins else " on every supported Python and system"
        yield f"{wanted.name} is wanted {whom}by pyproject.toml and not locked{everywhere}"
    for pin in pins:
        try:
            fits = wanted.specifier.contains(Version(pin.version), prereleases=True)
        except InvalidVersion:
            fits = False
        if not fits:
            yield f"{wanted.name} is locked at {pin.version}, and pyproject.toml wants {wanted.specifier}"


def _unneeded(wanted: Sequence[Requirement], locked: Sequence[Locked], besides: Sequence[Locked] = ()) -> Iterable[str]:
    """Pins that nobody asks for any more: neither the project nor a package that is still needed."""
    needed: set[str] = {canonicalize_name(one.name) for one in wanted}
    known = [*locked, *besides]
    while more := {pin.name for pin in known if pin.via & needed} - needed:
        needed |= more
    for name in dict.fromkeys(pin.name for pin in locked if pin.name not in needed):
        yield f"{name} is locked and needed by nothing"


def _unsound(locked: Sequence[Locked]) -> Iterable[str]:
    for pin in locked:
        if not pin.digests:
            yield f"{pin.name} {pin.version} is locked without a digest"
    for name in dict.fromkeys(pin.name for pin in locked):
        pins = [pin for pin in locked if pin.name == name]
        if any(len({pin.version for pin in pins if _holds(pin.marker, where)}) > 1 for where in environments()):
            yield f"{name} is locked at several versions: {', '.join(sorted({pin.version for pin in pins}))}"
