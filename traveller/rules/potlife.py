"""Is the mix or compound still good? Last days of use and pot life."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

__all__ = ["PotLife", "days_left", "is_expired"]


def days_left(expires: date, on: date) -> int:
    """Days from `on` to the last day of use: 0 on that day itself, negative once past."""
    return (expires - on).days


def is_expired(expires: date | None, on: date) -> bool:
    """Whether the last day of use is over; what has none never expires."""
    return expires is not None and expires < on


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
