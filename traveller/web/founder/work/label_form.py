"""The form of tote labels: a field for each place where pieces of a batch lie."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _

from traveller.batches.models import Batch
from traveller.batches.reads.labels import Totes
from traveller.batches.splitting.places import SEPARABLE
from traveller.batches.status import statuses_of
from traveller.ledger.models import Account
from traveller.web.founder.desk.frame import Desk
from traveller.web.founder.desk.listing import amount
from traveller.web.parts.figures import parted, read_count
from traveller.web.status_words import said_in_words

# A sheet has eight labels; nobody fills five hundred totes of one batch.
TOTES_MOST = 500


class LabelForm(forms.Form):
    """How the pieces at each place are shared out over totes."""

    def __init__(self, batch: Batch, desk: Desk, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.accounts = lying_of(batch)
        statuses = statuses_of(self.accounts.values(), desk.today)
        for name, account in self.accounts.items():
            said = said_in_words(statuses[account.pk])
            figures = {"n": amount(account.balance, batch.part.unit), "site": account.site.name, "word": said["word"]}
            self.fields[name] = forms.CharField(
                max_length=200,
                required=False,
                label=_("%(n)s at %(site)s: %(word)s") % figures,
                help_text=_("Pieces in each tote, one number a tote: 400 400 160"),
            )

    def totes(self) -> list[Totes]:
        """What was typed; what is no list of whole numbers gets the field's error."""
        found = []
        for name, account in self.accounts.items():
            words = parted(self.cleaned_data.get(name) or "")
            numbers = [n for n in map(read_count, words) if isinstance(n, int) and n > 0]
            if len(numbers) != len(words):
                self.add_error(name, _("Write whole numbers with a blank between them, one a tote: 400 400 160."))
            found.append(Totes(account, tuple(numbers)))
        if sum(len(each.quantities) for each in found) > TOTES_MOST:
            self.add_error(None, _("At most %(n)s labels at once.") % {"n": TOTES_MOST})
        return found


def lying_of(batch: Batch) -> dict[str, Account]:
    """What of a batch may stand in totes somewhere, by the name of its field on the form of labels."""
    rows = Account.objects.filter(lot=batch.lot_id, condition__in=SEPARABLE, balance__gt=0)
    found = rows.select_related("lot", "site").order_by("site__name", "step", "condition")
    return {f"tote-{row.pk}": row for row in found} if batch.lot_id else {}
