"""The forms of what happens to a batch's pieces: set apart, joined, moved by hand, found good after all."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from sites.models import Site
from traveller.batches.models import Batch, StepState
from traveller.batches.reads.queries import Whereabouts
from traveller.batches.splitting.places import SEPARABLE
from traveller.ledger.models import Account, Condition
from traveller.ledger.post import Place
from traveller.rules.codes import show_code as show_code
from traveller.web.founder.desk.amounts import AmountField, of_unit
from traveller.web.founder.desk.listing import amount
from traveller.web.founder.work.places import place_words

Choices = list[tuple[str, str]]


def places_of(row: Whereabouts) -> Choices:
    """Where pieces of the batch lie that a hand may take, as a form names them."""
    return [
        (
            f"{lie.site_id}:{lie.condition}:{lie.step}",
            f"{place_words(row, lie)}, {amount(lie.quantity, row.batch.part.unit)}",
        )
        for lie in row.lies
        if lie.condition in SEPARABLE
    ]


def place_in(text: str, lot_id: int) -> Place:
    """What `places_of` named."""
    site, condition, step = text.split(":")
    return Place(lot_id, int(site), condition, int(step))


class MoveForm(forms.Form):
    """One of these forms: fields that offer choices get them from `choices`, by name."""

    def __init__(self, choices: dict[str, Choices], *args: Any, unit: str = "C62", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        of_unit(self, unit)
        for name, found in choices.items():
            if name in self.fields:
                self.fields[name].choices = found  # type: ignore[attr-defined]

    @property
    def possible(self) -> bool:
        """There is something to choose from in every list."""
        lists = [field for field in self.fields.values() if isinstance(field, forms.ChoiceField)]
        return all(field.choices for field in lists)


class SplitForm(MoveForm):
    """Some of the pieces become a batch of their own."""

    place = forms.ChoiceField(label=lazy("Which pieces"))
    quantity = AmountField(least=1, label=lazy("How many"))
    reason = forms.CharField(max_length=300, label=lazy("Why"), help_text=lazy("It stays in the record."))


class JoinForm(MoveForm):
    """All that lies at one place becomes one batch with all of another."""

    other = forms.ChoiceField(label=lazy("With which"))
    reason = forms.CharField(max_length=300, label=lazy("Why"), help_text=lazy("It stays in the record."))


class RestForm(MoveForm):
    """What is left somewhere goes to another batch, or is carried on."""

    place = forms.ChoiceField(label=lazy("Which pieces"))
    target = forms.ChoiceField(label=lazy("Where to"))
    reason = forms.CharField(max_length=300, label=lazy("Why"), help_text=lazy("It stays in the record."))


class FoundForm(MoveForm):
    """Scrap that is good after all."""

    step = forms.ChoiceField(label=lazy("Scrapped at"))
    quantity = AmountField(least=1, label=lazy("How many are good"))
    reason = forms.CharField(max_length=300, label=lazy("Why"), help_text=lazy("It stays in the record."))


class RerouteForm(MoveForm):
    """A step is done at another site."""

    open_step = forms.ChoiceField(label=lazy("Which step"))
    site = forms.ChoiceField(label=lazy("At which site"))
    reason = forms.CharField(max_length=300, label=lazy("Why"), help_text=lazy("It stays in the record."))


MOVES: dict[str, type[MoveForm]] = {
    "reroute": RerouteForm,
    "split": SplitForm,
    "join": JoinForm,
    "rest": RestForm,
    "found": FoundForm,
}


def choices_of(row: Whereabouts) -> dict[str, Choices]:
    """What the forms of one batch offer; a constant number of queries."""
    batch = row.batch
    places = places_of(row)
    return {
        "place": places,
        "other": _others_at(batch, places),
        "target": _targets(row),
        "step": _scrap(row),
        "open_step": _open_steps(row),
        "site": [(str(site.pk), site.name) for site in Site.objects.filter(closed_on=None).exclude(kind="supplier")],
    }


def _others_at(batch: Batch, places: Choices) -> Choices:
    """Other batches on the same routing of which something lies at one of these places."""
    here = dict(places)
    rows = Account.objects.filter(lot__batch__routing=batch.routing_id, condition__in=SEPARABLE, balance__gt=0).exclude(
        lot=batch.lot_id
    )
    found = []
    for account in rows.select_related("lot", "site").order_by("lot_id", "id"):
        key = f"{account.site_id}:{account.condition}:{account.step}"
        if key in here:
            figures = {
                "n": amount(account.balance, batch.part.unit),
                "code": show_code(account.lot.code),
                "place": here[key],
            }
            words = _("%(n)s of batch %(code)s, with: %(place)s") % figures
            found.append((f"{account.lot_id}:{key}", words))
    return found


def _targets(row: Whereabouts) -> Choices:
    """Open batches on the same routing, and the sites of this one's way."""
    batch = row.batch
    batches = Batch.objects.filter(routing=batch.routing_id, closed_at=None).exclude(pk=batch.pk)
    codes = [
        (f"batch:{other.pk}", _("into batch %(code)s") % {"code": show_code(other.code)})
        for other in batches.order_by("id")
    ]
    sites = {step.site_id: step.site.name for step in row.steps} | {batch.destination_id: batch.destination.name}
    return codes + [
        (f"site:{pk}", _("carried to %(site)s, without papers") % {"site": name}) for pk, name in sites.items()
    ]


def _open_steps(row: Whereabouts) -> Choices:
    """Steps of which nothing is counted yet: of others the rest is split off first."""
    found = []
    for step in row.steps:
        if step.state != StepState.DONE and not (step.good or step.scrap or step.rework or step.samples):
            figures = {"step": step.number, "verb": step.operation.verb, "site": step.site.name}
            found.append((str(step.pk), _("step %(step)s, %(verb)s, now at %(site)s") % figures))
    return found


def _scrap(row: Whereabouts) -> Choices:
    by_place = {(step.site_id, step.number): step for step in row.steps}
    if not row.batch.lot_id:
        return []
    rows = Account.objects.filter(lot=row.batch.lot_id, condition=Condition.SCRAP, balance__gt=0).order_by("step")
    found = []
    for account in rows:
        step = by_place.get((account.site_id, account.step))
        if step:
            figures = {
                "step": step.number,
                "verb": step.operation.verb,
                "n": amount(account.balance, row.batch.part.unit),
            }
            found.append((str(step.pk), _("step %(step)s, %(verb)s: %(n)s scrap") % figures))
    return found


def move_forms(row: Whereabouts, sent: MoveForm | None = None) -> dict[str, MoveForm]:
    """All of them; one that was sent and refused comes back as it was typed."""
    choices = choices_of(row)
    forms_of = {name: kind(choices, prefix=name, unit=row.batch.part.unit) for name, kind in MOVES.items()}
    if sent is not None and sent.prefix:
        forms_of[sent.prefix] = sent
    return forms_of
