"""Is it proved? One file for each kind of check; KINDS is all that there are.

A module of this folder that declares a `KIND` is a kind of check: nothing else has to name it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from pkgutil import iter_modules
from types import MappingProxyType
from typing import Any

from traveller.rules.checks.fields import Field
from traveller.rules.checks.kind import CheckKind
from traveller.rules.checks.quantities import know

__all__ = ["COLUMNS", "KINDS", "PARAMETERS_READ", "WORDS", "names_of"]


def _declared() -> list[CheckKind[Any]]:
    modules = (import_module(f"{__name__}.{one.name}") for one in iter_modules(__path__))
    found: list[CheckKind[Any]] = [module.KIND for module in modules if hasattr(module, "KIND")]
    return sorted(found, key=lambda kind: (kind.order, kind.name))


# Each kind has its own parameters, so the table cannot say more than that a kind fits itself.
KINDS: Mapping[str, CheckKind[Any]] = MappingProxyType({kind.name: kind for kind in _declared()})

# Every column that some kind reads, in the order of the workbook, as the first kind declares it: a column has one
# meaning, and one way to be read.
PARAMETERS_READ: Mapping[str, Field] = MappingProxyType(
    {field.name: field for kind in reversed(list(KINDS.values())) for field in kind.fields}
)
COLUMNS: tuple[str, ...] = tuple(dict.fromkeys(column for kind in KINDS.values() for column in kind.columns))

# Every sentence that a verdict, a limit or a question may need, by its code.
WORDS: Mapping[str, str] = {code: words for kind in KINDS.values() for code, words in kind.words.items()}

for _field in (field for kind in KINDS.values() for field in kind.fields):
    if _field.reader.quantity is not None:
        know(_field.reader.quantity)


def names_of(is_one: Callable[[CheckKind[Any]], object]) -> list[str]:
    """The names of the kinds of which that is true, to ask the database for their checks."""
    return [name for name, kind in KINDS.items() if is_one(kind)]
