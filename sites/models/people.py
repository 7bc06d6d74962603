"""Who works at a site, and the passes that open the door to it."""

from __future__ import annotations

from django.db import models

from sites.models.site import Site


class Person(models.Model):
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="people")
    name = models.CharField(max_length=80)
    initials = models.CharField(max_length=8)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="one_person_of_a_name_per_site")]

    def __str__(self) -> str:
        return self.name


class PassKind(models.TextChoices):
    OPERATOR = "operator", "operator"
    PACKING = "packing", "packing"


class SitePass(models.Model):
    """Opened once on a phone, it makes the phone belong to this site until revoked. Only the hash is kept."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="passes")
    kind = models.CharField(max_length=12, choices=PassKind.choices)
    label = models.CharField(max_length=80, blank=True)
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_seen_at = models.DateTimeField(null=True, blank=True)
    idle_days_max = models.PositiveIntegerField(default=60)

    class Meta:
        ordering = ["site__name", "-made_at"]

    def __str__(self) -> str:
        return f"{self.kind} pass for {self.site_id}"


class DoorTry(models.Model):
    """A failed try to open a pass or sign in; counted per address so that guessing is limited."""

    door = models.CharField(max_length=16)
    address_hash = models.CharField(max_length=64)
    tried_at = models.DateTimeField()

    class Meta:
        # Asked at every try: how many from this address lately?
        indexes = [models.Index(fields=["door", "address_hash", "tried_at"], name="tries_by_address")]

    def __str__(self) -> str:
        return f"{self.door} {self.tried_at}"
