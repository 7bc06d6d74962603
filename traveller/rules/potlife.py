"""Is the mix or compound still good? Shelf life, pot life, and what is to be used first."""

from __future__ import annotations

import calendar
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Protocol, TypeVar

__all__ = [
    "Dated",
    "PotLife",
    "days_left",
    "expiry_order",
    "first_expired_first",
    "is_expired",
    "shelf_life_end",
]


class Dated(Protocol):
    """Anything that may have a last day of use."""

    @property
    def expires(self) -> date | None:
        """The last day of use; None for what does not expire."""
        ...


DatedT = TypeVar("DatedT", bound=Dated)


def shelf_life_end(made: date, *, days: int = 0, months: int = 0) -> date:
    """The last day of use; a month's end stays in its month (31 January and a month: 28 February).

    Months are added first, then days. Count from the day of making or mixing, not from the receipt.
    """
    if days < 0 or months < 0:
        raise ValueError("a shelf life is not negative")
    year, month0 = divmod(made.year * 12 + made.month - 1 + months, 12)
    last_of_month = calendar.monthrange(year, month0 + 1)[1]
    return date(year, month0 + 1, min(made.day, last_of_month)) + timedelta(days=days)


def days_left(expires: date, on: date) -> int:
    """Days from `on` to the last day of use: 0 on that day itself, negative once past."""
    return (expires - on).days


def is_expired(expires: date | None, on: date) -> bool:
    """Whether the last day of use is over; what has none never expires."""
    return expires is not None and expires < on


def expiry_order(expires: date | None) -> tuple[bool, date]:
    """A key that sorts the nearest expiry first and what never expires last."""
    return (expires is None, expires or date.max)


def first_expired_first(lots: Iterable[DatedT]) -> list[DatedT]:
    """Lots in the order of use: nearest expiry first, none last, equal ones in the order given."""
    return sorted(lots, key=lambda lot: expiry_order(lot.expires))


@dataclass(frozen=True, slots=True)
class PotLife:
    """How long a mix may be used: minutes at a reference temperature, halving per so many degrees more.

    The usual law for two-component inks is a half per 10 degrees C; the data sheet overrides it.
    """

    minutes: int
    at_celsius: float
    halving_degrees: float = 10.0

    def __post_init__(self) -> None:
        if self.minutes <= 0 or self.halving_degrees <= 0:
            raise ValueError("a pot life and its halving step are above zero")

    def minutes_at(self, celsius: float) -> int:
        """Whole minutes at a temperature, rounded down; never more than at the reference.

        Cold is not credited: a mix warms up on the bench, and the sheet's figure is what is promised.
        """
        warmer = max(0.0, celsius - self.at_celsius)
        return int(self.minutes * 0.5 ** (warmer / self.halving_degrees))

    def ends(self, mixed_at: datetime, celsius: float) -> datetime:
        """When (UTC) a mix made at this aware time is past use."""
        if mixed_at.tzinfo is None:
            raise ValueError("a time without a zone has no true duration")
        return mixed_at.astimezone(UTC) + timedelta(minutes=self.minutes_at(celsius))
