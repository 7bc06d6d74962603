"""What a form of a phone says, in words: its page, and its fields without those that only the page needed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from uuid import UUID

from django.http import Http404
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from traveller.batches.models import Load, Step
from traveller.web.parts import inside

PAGES: Mapping[str, Promise] = {
    "here_start": lazy("started"),
    "here_finish": lazy("step done"),
    "here_count": lazy("counted"),
    "here_measure": lazy("measured"),
    "here_load_in": lazy("load in"),
    "here_load_out": lazy("load out"),
    "here_out": lazy("load out"),
    "here_leak": lazy("the known leak was tested"),
    "here_proof": lazy("a file was sent"),
    "here_proof_seen": lazy("how a log is to be read"),
    "here_correct": lazy("a count was corrected"),
    "here_undo": lazy("taken back"),
    "here_split": lazy("pieces were set apart"),
    "here_found": lazy("scrap was found good"),
    "here_cavities": lazy("cavities were blocked or freed"),
    "here_own_number": lazy("the shop’s own lot number"),
    "here_problem_back": lazy("a problem was taken back"),
    "here_problem": lazy("a problem was reported"),
    "here_send": lazy("goods were sent"),
    "here_return": lazy("goods were sent back"),
    "here_arrival": lazy("goods were counted on arrival"),
    "here_recount": lazy("goods were counted again on arrival"),
    "here_back": lazy("a dispatch was taken back"),
    "here_unannounced": lazy("goods arrived that nobody had told were sent"),
}
FIELDS: Mapping[str, Promise] = {
    "good": lazy("good"),
    "rework": lazy("rework"),
    "samples": lazy("samples"),
    "shots": lazy("shots"),
    "open_cavities": lazy("open cavities"),
    "quantity": lazy("pieces"),
    "place": lazy("place"),
    "reason": lazy("reason"),
    "note": lazy("remark"),
    "at": lazy("time, as typed"),
    "started_at": lazy("went in, as typed"),
    "late_reason": lazy("why it is told late"),
    "load": lazy("load"),
    "done": lazy("step done"),
    "carrier": lazy("carrier"),
    "method": lazy("counted by"),
    "code": lazy("code"),
}
OF_THE_PAGE = ("stage", "again", "back", "sure:", "csrfmiddlewaretoken")


def page_words(path: str, step: Step | None) -> str:
    """Which page it was: "20, mould: counted"."""
    try:
        name = inside.matched_view(path).url_name or ""
    except Http404:
        name = ""
    words = str(PAGES.get(name, path))
    return f"{step.number}, {step.operation.verb}: {words}" if step else words


def entry_words(fields: Iterable[Sequence[str]], files: Iterable[Sequence[str]]) -> list[tuple[str, str]]:
    """Name and value of what somebody typed or tapped; nothing that was left empty."""
    found = [(_name(name), _value(name, value)) for name, value in fields if value and not name.startswith(OF_THE_PAGE)]
    return found + [(_("file"), name) for _field, name, _digest in files]


def _name(name: str) -> str:
    if name in FIELDS:
        return str(FIELDS[name])
    if name.startswith("scrap:"):
        return _("scrap, %(reason)s") % {"reason": name.removeprefix("scrap:")}
    if name.startswith("r:"):
        # A reading: its check, its name, cavity and piece.
        return name.split(":")[2] if name.count(":") > 1 else name
    return name.replace("_", " ")


def _value(name: str, value: str) -> str:
    if name == "done":
        return _("yes")
    if name != "load":
        return value
    try:
        load = Load.objects.filter(uid=UUID(value)).first()
    except ValueError:
        return value
    return str(load.number) if load else _("one that nobody has told")
