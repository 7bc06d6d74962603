"""The founder revokes a pass: the phone that holds it is a stranger from now on."""

from __future__ import annotations

from datetime import datetime

from sites.models import SitePass


def revoke_pass(*, site_pass: SitePass, at: datetime) -> None:
    """From `at` on; a pass that was revoked before stays revoked as of then."""
    SitePass.objects.filter(pk=site_pass.pk, revoked_at=None).update(revoked_at=at)
