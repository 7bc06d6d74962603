"""Sentences about goods between shops that are taken back, counted again, or came all the same (see words.py)."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

GOODS: Mapping[str, str | Promise] = {
    "counted_there": _("{site} has counted {counted} of it: it can’t be taken back any more. Call {site}."),
    "used_there": _("{site} has worked on {used} of it, so it did arrive. It can’t be taken back: call {site}."),
    "dispatch_taken_back": _("Dispatch {consignment} was taken back by its sender: by the record it never left."),
    "not_counted_yet": _("Dispatch {consignment}: this line was not counted yet. Count it first."),
    "difference_was_settled": _(
        "Dispatch {consignment}: the difference was settled, with {received} received. It can’t be counted again."
    ),
    "surplus_was_held": _(
        "Dispatch {consignment}: what was over the tolerance was set apart and held. Call the maker to count it again."
    ),
    "counted_mixed": _(
        "Dispatch {consignment}: this was counted together with other lots, and can’t be counted again by itself."
    ),
    "came_all_the_same": _(
        "{quantity} of lot {lot} were counted on arrival, though the sender has taken dispatch {consignment} back."
    ),
    "problem_too_old": _("More than {minutes} minutes have passed since it was reported. Call the maker."),
    "problem_decided": _("The maker has decided on it already: it can’t be taken back any more."),
    # To the packer, of a lot that is on no shelf any more.
    "in_carton": _(
        "Lot {lot}, {part}: {quantity} of it are in carton {carton} for order {order}, packed {packed_at}. "
        "Nothing else of it is in stock at {site}."
    ),
    "in_several_cartons": _(
        "Lot {lot}, {part}: {quantity} of it are in {cartons} cartons, the last of them {carton} for order {order}, "
        "packed {packed_at}. Nothing else of it is in stock at {site}."
    ),
    "left_in_carton": _(
        "Lot {lot}, {part}: {quantity} of it have left in cartons, the last of them {carton} for order {order}, packed "
        "{packed_at}. Nothing else of it is in stock at {site}."
    ),
    # Questions of the page on which goods are counted.
    "taken_back_there": _(
        "Dispatch {consignment} was taken back by {site}: by the record it never left. Is it here all the same?"
    ),
    "far_above": _("{counted} pieces: far above any sensible count of this batch. Is it right?"),
    "none_after_all": _("You typed 0: did none of it come after all?"),
    "over_sent": _("{counted} counted, {sent} were sent: {over} more."),
}
