"""The one place where codes and figures become sentences, so that they can be translated.

Every code that a room refuses, holds or judges with has its sentence here or in the WORDS of its kind of check;
a test holds this table against the code.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from traveller.products.frozen import CheckPlan
from traveller.rules.checks import KINDS
from traveller.rules.checks.first_piece import CHANGES
from traveller.rules.logs import WORDS as LOGS
from traveller.rules.other_units import other_limit, system_of
from traveller.web.asked_words import QUESTIONS
from traveller.web.goods_words import GOODS
from traveller.web.language.numbers import with_units
from traveller.web.language.reader import units
from traveller.web.shown_figures import with_their_units

REFUSALS: Mapping[str, str | Promise] = {
    "told_otherwise": _("This form was sent before with other figures, and the first ones stand. Open the page anew."),
    "form_without_id": _("The page lost its number on the way. Nothing was recorded: open it anew and send again."),
    "time_unreadable": _("“{found}” is not a date and time. Write it like 2026-11-25 14:30."),
    "time_in_the_future": _("{found} has not come yet. Check the date and the time."),
    "time_long_past": _("{found} is long past. Check the year."),
    "not_a_quantity": _("{found} is not a quantity that can be counted. Type a whole number, zero or more."),
    "database_busy": _("The database is busy. Nothing was recorded yet: what you typed is still here, send it again."),
    "database_away": _(
        "The record can’t be reached just now. What you typed is still here: send it again, it counts once."
    ),
    "disk_full": _(
        "The disk of the server is full. Nothing was recorded: what you typed is still here. Tell the maker."
    ),
    "upload_empty": _("No file came, or an empty one. Choose the workbook again."),
    "upload_too_large": _(
        "That is more than {megabytes_max} MB. Leave out what is not part of the workbook, or make its pictures "
        "smaller."
    ),
    "upload_broke": _(
        "The program itself failed on this workbook; nothing was imported. What happened stands in the output of "
        "manage.py work."
    ),
    "upload_gone": _("This upload is not kept here any more. Choose the workbook again: it is tried anew."),
    "pass_shown_before": _(
        "This form has made a pass before, and its key was shown only then. Revoke that pass and make a new one."
    ),
    "no_public_address": _("Fix the public address first (TRAVELLER_ADDRESS): it is printed in every code on paper."),
    "reason_needed": _("Say why in a few words: it stays in the record."),
    "nothing_to_label": _("Nothing of batch {batch} was named. Write how many pieces are in each tote."),
    "more_labelled": _(
        "Labels for {wanted} were asked for, and {there} lie there at {site}. Count again, or print fewer."
    ),
    "short": _("Only {there} of {part} (lot {lot}) are {condition} there, {wanted} were asked for."),
    "held": _("Lot {lot}, {part}, is held. {why_sentence} Set it apart and ask the founder."),
    "not_proved": _("Batch {batch} may not go on: step {step}, {verb}, is not proved. {why_sentence}"),
    "component_not_proved": _(
        "{part} (lot {lot}) holds {component} of batch {batch}: its step {step}, {verb}, is not proved. {why_sentence}"
    ),
    "wrong_destination": _("Batch {batch} goes to {site} next ({verb}). Choose that site, or send it as a return."),
    "same_site": _("Sender and receiver are the same site. Choose where the goods go."),
    "nothing_to_send": _("Nothing was chosen to be sent. Choose at least one lot and a quantity."),
    "nothing_there": _("Nothing of this lot lies there."),
    "not_a_part": _("{there} lie there. A part is at least 1 and fewer than all; to stop all of it, hold the lot."),
    "no_routing": _("Part {part} has no routing yet. Add its steps to the workbook and import it."),
    "never_open": _("A site on the way is never open within three years: look at the sites' shifts and closures."),
    "no_such_step": _("There is no step {step} to go back to. Choose one of this batch's own steps."),
    "send_back_first": _("Lot {lot} is not at {site}, where step {step} is done. Send it back there first."),
    "still_on_the_road": _("{quantity} of lot {lot} are still on the road. Receive them first, then decide."),
    "rework_needs_a_batch": _("Lot {lot} was bought: it has no steps to go back to. Scrap it, return it or use it."),
    "regrade_needs_another_part": _("Choose another part that {part} may be used as."),
    "regrade_other_unit": _("{part} is counted in {unit}, and this lot in {own}. Choose a part of the same unit."),
    "return_is_for_bought": _("Lot {lot} was made here: it cannot go back to a supplier. Rework, regrade or scrap it."),
    "release_needs_concession": _("A failed or missing check stands behind this hold: release it as a concession."),
    "no_first_off_asked": _("Step {step}, {verb}, asks for no first-off: there is nothing to approve."),
    "first_off_not_measured": _(
        "Nothing was measured from cavity {cavities} yet. Have a piece of every open cavity measured, then approve."
    ),
    "already_decided": _("This hold was decided before: {disposition}."),
    "inherited_hold": _("This hold comes from lot {lot}. Decide it there: what it alone held goes free with it."),
    "already_received": _("Consignment {consignment}: this line was counted before, {received} received."),
    "nothing_to_settle": _("Consignment {consignment} has no difference left to settle."),
    "finding_does_not_fit": _("That does not explain a difference of {difference}. Choose another finding."),
    "file_empty": _("There was nothing in this file. Choose it again."),
    "file_too_large": _(
        "This file is larger than {megabytes_max} megabytes: no log, photo or certificate is. Refused."
    ),
    "not_a_picture": _("This is not a picture that can be shown here. Send a JPEG, PNG or WebP photo."),
    "not_a_certificate": _("Send a certificate as a PDF or as a picture."),
    "unknown_kind_of_file": _("Say what it is: a temperature log, a photo or a certificate."),
    "log_replaced": _("Another log has taken the place of this one. Open the step anew."),
    "same_log_elsewhere": _(
        "The same file was sent for batch {batch}, whose load was in {place}; this load was in {own}."
    ),
    "log_of_another_place": _("The file speaks of {place}; this load was in {own}."),
    "no_step_here": _("No step of it is done at this site, so there is no place for a photo."),
    "photo_empty": _("There was no photo in it. Take one of the code and send it again."),
    "photo_too_large": _("This photo is too large. Send one of at most {megabytes_max} megabytes."),
    "photo_unreadable": _("This file is not a photo that can be read here. Take a new one, or type the code."),
    "photo_slow": _("This photo was not read in time. Type the code, or take a new photo from nearer."),
    "photo_busy": _("Other photos are just being read. Type the code, or take the photo again in a moment."),
    "photo_too_many_points": _(
        "This photo has {width} by {height} points, more than can be read here ({most} million). "
        "Take it with a lower setting, or type the code."
    ),
    "being_read": _("It is being read. What it says counts as soon as it is read."),
    "picture_too_slow": _("This picture takes too long to read. Take a new photo and send that."),
    "picture_too_large": _("This picture is too large to be read here. Send a photo taken with a lower setting."),
    "picture_ended": _("Reading this picture was cut short three times, by no fault of the picture. Send it again."),
    "picture_unreadable": _("This picture is damaged and cannot be read. Take a new photo and send that."),
    "photo_without_code": _("No code was found in the photo. Go closer, hold still, mind shadows; or type the code."),
    "core_needs_load": _("Say which load it was in: how well an oven heats hangs on how full it is."),
    "late_reason_needed": _("Say why the time is told late."),
    "tote_quantities": _("Type the pieces in each tote, like 300 300 120; at most {most} totes."),
    "set_aside": _("Taken down and not booked yet: the maker sees it."),
    "nothing_set_aside": _("There is nothing here that waits for a decision."),
    "aside_decided": _("This was decided before."),
    "form_came_back": _("There was nothing left here in which it could have been recorded."),
    "no_such_task": _("This task is not at this site, or it is gone. Call the maker."),
    "two_meanings": _("“{text}” can mean two things, and the phone could not be asked which."),
    "unknown_news": _("What this is about was not told here yet."),
    "entry_unreadable": _("This entry cannot be read ({found}). Open the page anew and tell it again."),
    "person_needed": _("Nobody's name stands on it. Tap your name, then tell it again."),
    "said_no": _("The answer to the question was no: nothing was recorded."),
    "fault": _("The server stumbled over it. It is not lost: the maker sees it."),
    "fault_kept": _("The server stumbled over it. It stays on this phone: try once more later, and tell the maker."),
    "rest_unexplained": _("{there} are still here by the record. Count them, or say that they cannot be found."),
    "nothing_arrived": _("You typed 0: did nothing of it come, or is it still on the road?"),
    "very_many": _("{counted} pieces. Is that right?"),
    "no_lot_comes_here": _("No batch that comes here has this code. Scan the label again, or call the maker."),
    "nothing_to_correct": _("There is no count behind this entry that could be corrected."),
    "nothing_to_undo": _("This cannot be taken back here. Correct it, or tell the maker what is wrong."),
    "too_late_to_undo": _("More than {minutes} minutes have passed. Correct it, and say why."),
    "built_upon": _("Somebody has gone on from it since, so it cannot be taken back. Correct it, and say why."),
    "was_undone": _("This was taken back: it did not occur. Tell what happened as news of its own."),
    "no_scrap_there": _("No scrap of this step lies there any more."),
    "more_than_scrap": _("{there} were told as scrap there, {wanted} are said to be good. Type at most {there}."),
    "load_is_in": _("{there} of them are in a load that is not out yet. Take it out and count it first."),
    "nothing_of_it_there": _("Nothing of lot {lot} lies there, so there is nothing to join."),
    "say_where_to": _("Say where it goes: to another batch, or to a site."),
    "other_routing": _("Batch {batch} is of another part, or goes another way. Choose one that takes the same steps."),
    "own_ancestor": _(
        "These pieces came out of batch {batch}: they can't go back into it. Make one new batch of both instead."
    ),
    "number_needed": _("Type the number that stands in your own books, {most} characters at most."),
    "site_closed": _("{site} is closed. Choose another site."),
    "site_is_open": _("{site} is not closed."),
    "own_bench_stays": _("{site} is the maker's own bench: it does not close."),
    "step_begun": _(
        "Step {step}, {verb}, is begun where it is. Split off what is left, then give that batch another site."
    ),
    "nothing_missing": _("No {part} is missing any more: what is released is covered."),
    "missing_changed": _(
        "{shown} {part} were missing when the page was shown, now it is {missing}. Look again, then start."
    ),
    "no_cavities": _("Step {step}, {verb}, has no mould with cavities."),
    "cavities_out_of_range": _("This mould has {most} cavities: between 1 and {most} can be open."),
    "not_on_a_shelf": _("What is {condition} does not lie on a shelf: it can be neither sent nor held apart."),
    "unknown_load": _("This load is not known at this step. Choose one of the loads shown."),
    "return_needs_a_reason": _("Say why it goes back: the reason stands on the note and in the record."),
    "say_what_it_is": _("Choose which part it is, or say in a few words what stands on it or what it looks like."),
    "used_meanwhile": _(
        "{there} of the {quantity} in lot {lot} are still there: the rest was used or moved. It stays a lot of its own."
    ),
    "matched_before": _("Somebody has said before what this is."),
    "mix_needs_two": _("One lot alone is not mixed. Count it by itself."),
    "mix_other_part": _("Different parts can be told apart: {parts}. Count each by itself."),
    "mix_other_routing": _("These lots of {part} go different ways. Sort them, or call the maker."),
    "mix_other_step": _("These lots do not go to the same step here. Count each by itself."),
    "nothing_unexplained": _("Nothing of lot {lot} is unexplained there any more."),
    "lines_left": _("Lines without a count: {left} of {all}. Have they not come yet? Then they stay on the road."),
    "few_weighed": _(
        "Only {sample} weighed for the weight of one: at least 10 are needed, better 50. Take the count all the same?"
    ),
    "by_weight": _("{counted} pieces by weight, give or take {spread} (two standard deviations). Record them?"),
    "scale_step": _(
        "The scale's step was left open. By the weights as typed it is {of_sample} for the pieces weighed together and "
        "{of_totes} for the totes. Is that the smallest change that it shows?"
    ),
    "scale_cannot_tell": _(
        "{counted} pieces, give or take {spread}: too coarse a scale for the weight of {sample}. Weigh at least "
        "{wanted} together. Take the count all the same?"
    ),
    "scale_too_coarse": _("{counted} pieces, give or take {spread}: too coarse a scale. Count them by hand. Take it?"),
    "by_shots": _("{shots} shots with {cavities} cavities are {counted} pieces. Record them?"),
    "return_needs_a_step": _("Batch {batch} goes back: say which of its steps is to be done again there."),
    "unknown_lot": _("No lot has this code. Scan its label again."),
    "not_on_the_bill": _("Lot {lot}, {part}, is not used at step {step}. Scan the right one."),
    "line_of_another_part": _("Line {line} of order {order} is for another part. Choose a line for this one."),
    "order_closed": _("Order {order} is closed. Enter what is wanted as a new order."),
    "below_released": _(
        "Line {line}: {least} are released already, so it cannot go down to {wanted}. Order at least {least}."
    ),
    "part_released": _("Line {line} is released with {part}. Enter the other part as a new line."),
    "made_not_bought": _("{part} is made, not bought. Release an order line for it instead."),
    "part_needed": _("Say which part it is, or choose the purchase that it was ordered with."),
    "another_part": _("Purchase {purchase} is for {wanted}. Choose the right purchase, or receive it without one."),
    "no_own_bench": _("No site is the maker's own bench yet. Add one to the sites of the workbook."),
    "plan_changed": _("Something has changed since this plan was shown. Look at the new one, then release it."),
    "no_such_line": _("This order line does not exist any more. Open the order anew."),
    "released_before": _("Line {line} of order {order} is released in full already."),
    "nothing_to_release": _("Nothing was chosen, or all of it is released already."),
    "right": _("Right: {part}, lot {lot}. {here} are here."),
    "damaged_code": _("“{text}” is not a whole code. Scan it again, or type the short code under the bars."),
    "unknown_code": _("No lot has the code {code}. Scan its label again, or type the short code under the bars."),
    "nothing_made_yet": _("Nothing has been made of batch {code} yet. Ask the founder which lot it is."),
    "not_a_lot": _("{code} is not a lot of parts. Scan the label on the tote."),
    "wrong_variant": _("This is {found}; the order wants {wanted}. Put lot {lot} back and take {wanted}."),
    "wrong_part": _("{part} does not belong in this kit. It takes: {wanted}."),
    "expired": _("Lot {lot}, {part}, expired on {expires_on}. Set it apart and ask the founder."),
    "not_enough_here": _("Only {there} of lot {lot}, {part}, are at {site}; {wanted} are wanted. Take less of it."),
    "not_here": _("Nothing of lot {lot}, {part}, is finished and in stock at {site}. Ask the founder where it is."),
    "more_than_ordered": _(
        "{packed} of {ordered} are packed, and {most} is the most that the customer takes: {wanted} more are too many."
    ),
    "reserved_for_another": _("{quantity} of it are kept for order {order}, line {line}. Ask before you take them."),
    "kit_short": _("The kit is not complete. Still missing: {missing}."),
    "kit_over": _("The kit has too much. Take out: {surplus}."),
    "carton_shipped": _("Carton {carton} has left already."),
    "carton_opened": _("Carton {carton} was opened again: what was in it is back in stock."),
    "carton_of_another_order": _("Carton {carton} is not for order {order}. Ship it with its own order."),
    "carton_elsewhere": _("Carton {carton} stands at another site."),
    "no_such_carton": _("One of these cartons is not there any more. Look at the list again."),
    "nothing_to_ship": _("No carton was chosen. Choose at least one."),
    "unreported": _(
        "{site} has told a later step of lot {lot}, {part}, before step {step}: {quantity} are not accounted for. "
        "Nothing leaves until that is told; ask the founder."
    ),
    "bill_loop": _("A bill contains itself: {parts}. Correct it in the workbook."),
    "bill_step_unknown": _("{part} uses {component} at step {step}, which its routing does not have."),
}

ASSUMPTIONS: Mapping[str, str | Promise] = {
    "step_yield": _("{part}, step {step}, {verb}: {yield_ppm} of the pieces come out good."),
    "mean_yield": _("Yields are means: about every second run will bring fewer than planned."),
    "turnaround": _("{site}: {days} working days a batch are agreed, working {shifts}."),
    "transit": _("From {origin} to {destination}: working days on the road: {days}."),
    "transit_unknown": _("From {origin} to {destination}: nobody has said how long; {days} working days are taken."),
    "bench": _("Kits are packed at {site}."),
}

HOLDS: Mapping[str, str | Promise] = {
    "held_by_founder": _("Held by the founder: {reason}"),
    "problem_reported": _("A problem was reported: {reason}"),
    "dispatch_unknown": _("{quantity} of lot {lot} arrived that nobody has told were sent."),
    "arrived_astray": _("{quantity} of lot {lot} arrived at the wrong site. Tell it where to send them on."),
    "lot_unknown": _("A tote of an unknown lot, {quantity}, arrived. {words}"),
    "over_tolerance": _("{surplus} more came than the tolerance allows: {ordered} were ordered, {most} is the most."),
    "nothing_recorded": _("Nothing was recorded for it yet."),
    "before_this_record": _("It was done before this record began, and taken over as it stood."),
}

CONDITIONS: Mapping[str, str | Promise] = {
    "in_process": _("in process"),
    "rework": _("in rework"),
    "stock": _("in stock"),
    "packed": _("packed"),
    "on_the_road": _("on the road"),
    "samples": _("taken as samples"),
    "scrap": _("scrap"),
    "unexplained": _("unexplained"),
    "bought_from": _("bought"),
    "made_from": _("made"),
    "made_into": _("made into other parts"),
    "sold_to": _("shipped to customers"),
    "unreported": _("not reported yet"),
    "owed_rework": _("rework not reported yet"),
}


# One code, one sentence: a test sees that no two tables say the same code.
_TABLES = (REFUSALS, HOLDS, ASSUMPTIONS, GOODS, QUESTIONS)


class _Figures(dict[str, Any]):
    """A figure that is missing shows as a dash: a sentence with a gap is still better than none."""

    def __missing__(self, key: str) -> str:
        return "–"


def with_figures(template: str | Promise, figures: Mapping[str, Any]) -> str:
    """A text with its figures, shown as the reader reads them."""
    return with_units(str(template).format_map(_Figures(with_their_units(figures))))


def say(code: str, figures: Mapping[str, Any] | None = None) -> str:
    """The sentence for a code, in the reader's language."""
    words = _Figures(with_their_units(figures or {}))
    if "why_code" in words:
        words["why_sentence"] = _ended(say(str(words["why_code"]), (figures or {}).get("why")))
    if "changes" in words:
        # A refusal carries the names as one text.
        names = re.findall(r"[a-z]+", str((figures or {})["changes"]))
        words["changes"] = ", ".join(_template(CHANGES[name]) for name in names if name in CHANGES)
    if "condition" in words:
        words["condition"] = str(CONDITIONS.get(str(words["condition"]), words["condition"]))
    sentence = with_units(_with_notes(code, figures or {}).format_map(words))
    other = other_limit(code, figures or {}) if code.startswith("limit.") else None
    # Both, the founder's first: what is judged is what she wrote, the other is rounded inward.
    if other and system_of(_unit_in(other[1])) == units():
        return f"{sentence} ({say(*other)})"
    return sentence


def _with_notes(code: str, figures: Mapping[str, Any]) -> str:
    """The code's own sentence, and those behind a verdict: where the probe was, by what the middle was computed."""
    return " ".join(_template(one) for one in (code, *figures.get("notes", ())))


def limit_words(plan: CheckPlan) -> str:
    """What a check allows, in the reader's words and numbers, and in the reader's units beside the check's own."""
    return gettext(", ").join(say(code, figures) for code, figures in plan.kind.limit_words(plan.params))


def _unit_in(figures: Mapping[str, Any]) -> str:
    return str(figures.get("degrees") or figures.get("unit"))


def _ended(sentence: str) -> str:
    """A reason that somebody typed may lack its full stop; another sentence follows it."""
    return sentence if sentence.endswith((".", "?", "!")) else f"{sentence}."


def known(code: str) -> bool:
    return any(code in table for table in (*_TABLES, LOGS)) or any(code in kind.words for kind in KINDS.values())


def _template(code: str) -> str:
    for table in _TABLES:
        if code in table:
            return str(table[code])
    for words in (*(kind.words for kind in KINDS.values()), LOGS):
        if code in words:
            return gettext(words[code])
    # A code without words is a fault that a test finds; the reader still gets something to quote.
    return code.replace("_", " ").replace(".", ": ")
