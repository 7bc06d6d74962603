"""The questions before something becomes news, by their codes; what may be answered stands in `question_words.py`."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

QUESTIONS: Mapping[str, str | Promise] = {
    "more_than_there": _("You typed {counted}; only {there} are here. Is that right?"),
    "more_than_wait": _("You typed {counted}; {there} wait here, and {inside} are still in a load. Is that right?"),
    "beyond_cap": _(
        "You typed {counted}; only {cap} more may be made before the first-off is approved. More than that is held."
    ),
    "far_more_than_planned": _("{counted} good, where {planned} were planned. Is that right?"),
    "nothing_counted": _("No piece and no shot stands on this form, so there is nothing to record."),
    "stopped_lot_used": _("{stop} Was it used all the same?"),
    "held_lot_used": _("A lot among these is held. Was it used all the same? Then what was made of it is held too."),
    "same_again": _("{good} good already recorded at {at} by {person}. More pieces, or the same?"),
    "same_bad_again": _("{bad} that are not good already recorded at {at} by {person}. More pieces, or the same?"),
    "same_shots_again": _("{shots} shots already recorded at {at} by {person}. More shots, or the same?"),
    "same_taken_back": _("What it was said to be the same as was taken back meanwhile. Record yours, if it happened."),
    "same_load": _("Load {load}, {counted} pieces, is in since {at}, recorded by {person}. Another load, or the same?"),
    "step_was_done": _("Step {step}, {verb}, was reported done. Add this count all the same?"),
    "batch_was_closed": _("Nothing of this batch was left anywhere, so it is closed. Add this count all the same?"),
    "is_that_all": _("{planned} planned, {recorded} recorded: is that all?"),
    "empty_load": _("Nothing goes in: record an empty load?"),
    "more_than_fits": _("{counted} in one load, where there is room for {room}. Is that right?"),
    "out_too_early": _("Load {load} was in for {lasted}, and {needed} are needed. Is it out already?"),
    "out_before_in": _("By these times load {load} came out before it went in. Record them all the same?"),
    "load_was_out": _("Load {load} was told to be out before. Set its end anew?"),
    "other_unit_meant": _("{value}, where {limits} is allowed: did you mean {other}?"),
    "outside_limits": _("{value}, where {limits} is allowed. Is that right?"),
}
