"""A refusal is data: a code and figures, which traveller.web.words turns into sentences."""

from __future__ import annotations

from dataclasses import dataclass, field

Figure = int | str | bool | None | list[str] | dict[str, str]


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a request was not granted. `code` names the sentence, `figures` fill it."""

    code: str
    figures: dict[str, Figure] = field(default_factory=dict)


class Refused(Exception):
    """Rolls the transaction back on the way out; `action` hands its refusal to the caller as data."""

    def __init__(self, code: str, **figures: Figure) -> None:
        super().__init__(code)
        self.refusal = Refusal(code, figures)


def refuse_without(reason: str) -> None:
    """What a person decides stays in the record with the reason in words."""
    if not reason.strip():
        raise Refused("reason_needed")
