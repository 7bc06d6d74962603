"""Accounts and postings. ledger.post is the only writer."""

from __future__ import annotations

from django.db import models

from sites.models import Site
from traveller.journal.models import Event
from traveller.ledger.models.lot import Lot


class Condition(models.TextChoices):
    IN_PROCESS = "in_process", "in process"
    REWORK = "rework", "rework"
    STOCK = "stock", "stock"
    PACKED = "packed", "packed"
    ON_THE_ROAD = "on_the_road", "on the road"
    SAMPLES = "samples", "samples"
    SCRAP = "scrap", "scrap"
    UNEXPLAINED = "unexplained", "unexplained"
    BOUGHT_FROM = "bought_from", "bought from"
    MADE_FROM = "made_from", "made from"
    MADE_INTO = "made_into", "made into"
    SOLD_TO = "sold_to", "sold to"
    UNREPORTED = "unreported", "unreported"
    UNREPORTED_REWORK = "owed_rework", "unreported rework"


# What lies somewhere and can be counted by hand: never below zero.
PHYSICAL: tuple[str, ...] = (
    Condition.IN_PROCESS,
    Condition.REWORK,
    Condition.STOCK,
    Condition.PACKED,
    Condition.ON_THE_ROAD,
    Condition.SAMPLES,
    Condition.SCRAP,
)


# May fall below zero while an earlier step has not told its pieces, and must return there. Pieces that came out of
# rework before anybody told that they went in are owed apart, since first entries would not pay for them.
OWED: tuple[str, ...] = (Condition.UNREPORTED, Condition.UNREPORTED_REWORK)


class Account(models.Model):
    """lot x site x condition x step, with its balance in the part's base unit.

    The step of `in process` and `rework` is the one that waits for the pieces; of `stock` the last one done,
    0 when all are; of `on the road` the one that it travels to, 0 for stock; of `scrap`, `samples`,
    `unexplained` and `made from` the one where it happened.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="accounts")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    condition = models.CharField(max_length=12, choices=Condition.choices)
    step = models.PositiveIntegerField(default=0)
    balance = models.BigIntegerField(default=0)
    # When the balance last left zero: "here since" on the founder's page.
    since = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["lot", "site", "condition", "step"], name="one_account_each"),
            models.CheckConstraint(
                condition=models.Q(balance__gte=0) | ~models.Q(condition__in=PHYSICAL),
                name="physical_never_below_zero",
            ),
        ]
        indexes = [
            # Stock table, operator's list, first page: what lies somewhere now (balance > 0) or waits to be reported
            # (< 0), among the empty accounts of years. Not partial: SQLite knows of none that these questions imply.
            models.Index(fields=["condition", "balance"], name="account_lies"),
        ]

    def __str__(self) -> str:
        return f"lot {self.lot_id} at {self.site_id}, {self.condition} {self.step}: {self.balance}"


class Posting(models.Model):
    """One signed line of an event's entry; per event and lot the lines sum to zero."""

    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="postings")
    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="postings")
    quantity = models.BigIntegerField()

    class Meta:
        constraints = [models.CheckConstraint(condition=~models.Q(quantity=0), name="posting_moves_something")]

    def __str__(self) -> str:
        return f"{self.quantity:+d} on {self.account_id}"
