"""What the buttons of a question say: one button a meaning, each with its figure, never a bare yes or no.

Its sentence stands in `asked_words.py`, here what may be answered: the first is "yes" (it is news), the second leads
back to what was typed. A test holds this table against the code.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from traveller.web.templatetags.look import whole
from traveller.web.words import with_figures

_CHANGE = _("Change it")
_USED = (_("It was used"), _("Another lot was used"))
_VALUE = (_("{value} is right"), _CHANGE)
_COUNTED = (_("{counted} is right"), _CHANGE)
ANSWERS: Mapping[str, tuple[str | Promise, str | Promise]] = {
    "more_than_there": _COUNTED,
    "more_than_wait": _COUNTED,
    "beyond_cap": _COUNTED,
    "far_more_than_planned": _COUNTED,
    "nothing_counted": (_("Nothing to record"), _CHANGE),
    "held_lot_used": _USED,
    "stopped_lot_used": _USED,
    "same_again": ("", _CHANGE),
    "same_bad_again": ("", _CHANGE),
    "same_shots_again": ("", _CHANGE),
    "same_load": (_("Another load"), _CHANGE),
    "step_was_done": (_("Add this count"), _CHANGE),
    "batch_was_closed": (_("Add this count"), _CHANGE),
    "is_that_all": (_("Yes, {recorded} is all"), _CHANGE),
    "empty_load": (_("Record an empty load"), _CHANGE),
    "more_than_fits": (_("{counted} are in it"), _CHANGE),
    "load_was_out": (_("Set its end anew"), _("The first end is right")),
    "out_before_in": (_("These times are right"), _("Change them")),
    "out_too_early": (_("It is out already"), _("Not out yet")),
    "outside_limits": _VALUE,
    "other_unit_meant": _VALUE,
    "lines_left": (_("They have not come yet"), _("Count them now")),
    "very_many": _COUNTED,
    "few_weighed": (_("Take this count"), _("Weigh more")),
    "scale_step": (_("That is its step"), _("Type the step")),
    "scale_cannot_tell": (_("Take this count"), _("Weigh more")),
    "scale_too_coarse": (_("Take this count"), _("Count by hand")),
    "by_weight": (_("Record {counted}"), _CHANGE),
    "by_shots": (_("Record {counted}"), _CHANGE),
}
# A third meaning, where there is one.
_THIRD: Mapping[str, Promise] = {"same_load": _("The same load"), "is_that_all": _("More will come")}
# Of these the figure makes the word: one piece, two pieces.
_SAME = frozenset(("same_again", "same_bad_again", "same_shots_again"))


@dataclass(frozen=True, slots=True)
class Buttons:
    """The words of the buttons; `same`: the answer that it is what was recorded before, where that can be."""

    yes: str
    no: str
    same: str = ""


def answers_to(code: str, figures: Mapping[str, object]) -> Buttons:
    """What may be answered to a question, by its code and the figures of its sentence."""
    # What a kind of check asks is about a value.
    yes, no = ANSWERS.get(code, _VALUE)
    if code in _THIRD:
        return Buttons(with_figures(yes, figures), with_figures(no, figures), str(_THIRD[code]))
    if code not in _SAME:
        return Buttons(with_figures(yes, figures), with_figures(no, figures))
    more, same = _shots(figures) if code == "same_shots_again" else _pieces(figures)
    return Buttons(more, with_figures(no, figures), same)


def _pieces(figures: Mapping[str, object]) -> tuple[str, str]:
    n = int(str(figures.get("good") or figures.get("bad") or 0))
    shown = {"n": whole(n)}
    return (
        ngettext("%(n)s more piece", "%(n)s more pieces", n) % shown,
        ngettext("The same %(n)s piece", "The same %(n)s pieces", n) % shown,
    )


def _shots(figures: Mapping[str, object]) -> tuple[str, str]:
    n = int(str(figures.get("shots") or 0))
    shown = {"n": whole(n)}
    return (
        ngettext("%(n)s more shot", "%(n)s more shots", n) % shown,
        ngettext("The same %(n)s shot", "The same %(n)s shots", n) % shown,
    )
