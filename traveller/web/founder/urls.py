"""The founder's pages."""

from __future__ import annotations

from django.urls import URLPattern, path, re_path

from traveller.web.founder.desk import find
from traveller.web.founder.figures import quality
from traveller.web.founder.orders import pages as orders
from traveller.web.founder.orders import plan
from traveller.web.founder.parts import kits, lots, purchase, purchases, stock
from traveller.web.founder.settings import workbook, workbook_reference
from traveller.web.founder.subcontractors import (
    behalf,
    consignment,
    consignments,
    passes,
    send_goods,
    site,
    site_closing,
    sites,
)
from traveller.web.founder.today import clock, home, missing_parts, phone_entries
from traveller.web.founder.work import (
    arrivals,
    batch_actions,
    batch_moves,
    batches,
    corrections,
    evidence,
    first_piece,
    hold_list,
    holds,
    record,
)

goods: list[URLPattern] = [
    path("stock", stock.stock, name="stock"),
    path("kits", kits.kits, name="kits"),
    path("consignments", consignments.consignments, name="consignments"),
    path("consignments/new", send_goods.send_goods, name="send_goods"),
    path("consignments/arrivals", arrivals.arrivals, name="arrivals"),
    path("consignments/arrivals/<int:parked_id>", arrivals.match, name="match"),
    path("consignments/rests/<int:account_id>", arrivals.settle_rest, name="settle_rest"),
    path("consignments/<str:code>", consignment.consignment, name="consignment"),
    path("consignments/<str:code>/note", consignment.note, name="consignment_note"),
    path("consignments/<str:code>/lines/<int:line_id>/settle", consignment.settle, name="settle"),
    path("consignments/<str:code>/lines/<int:line_id>/count", consignment.count, name="count_for"),
    path("sites", sites.sites, name="sites"),
    path("sites/<slug:code>", site.site, name="site"),
    path("sites/<slug:code>/close", site_closing.close, name="site_close"),
    path("sites/<slug:code>/write-off", site_closing.off, name="site_write_off"),
    path("sites/<slug:code>/passes", passes.make, name="make_pass"),
    path("sites/<slug:code>/card", passes.card, name="pass_card"),
    path("sites/<slug:code>/passes/<int:pass_id>/revoke", passes.revoke, name="revoke_pass"),
    path("workbook", workbook.workbook, name="workbook"),
    path("workbook/reference", workbook_reference.workbook_reference, name="workbook_reference"),
    path("workbook/template.xlsx", workbook_reference.workbook_template, name="workbook_template"),
    path("workbook/import", workbook.import_kept, name="workbook_import"),
    re_path(r"^workbook/export\.(?P<kind>zip|xlsx)$", workbook.export, name="workbook_export"),
    path("founder/plan", plan.plan, name="plan"),
    path("phone-entries", phone_entries.phone_entries, name="phone_entries"),
    path("phone-entries/<int:for_review_id>", phone_entries.decide, name="phone_entry"),
    path("quality", quality.quality, name="quality"),
    path("purchases", purchases.purchases, name="purchases"),
    path("purchases/new", purchases.new_purchase, name="new_purchase"),
    path("purchases/<str:code>", purchase.purchase, name="purchase"),
]

work: list[URLPattern] = [
    path("", home.home, name="home"),
    path("orders", orders.orders, name="orders"),
    path("orders/<path:number>", orders.order, name="order"),
    path("batches/<str:code>", batches.batch, name="batch"),
    path("batches/<str:code>/hold", batch_actions.hold, name="batch_hold"),
    path("missing/<int:part_id>", missing_parts.again, name="make_again"),
    path("batches/<str:code>/move/<str:what>", batch_moves.move, name="batch_move"),
    path("batches/<str:code>/part", batch_actions.part, name="batch_part"),
    path("batches/<str:code>/traveller", batch_actions.print_paper, name="batch_print"),
    path("batches/<str:code>/labels", batch_actions.labels, name="batch_labels"),
    path("batches/<str:code>/record", record.record, name="batch_record"),
    path("events/<int:event_id>/correct", corrections.correct, name="correct"),
    path("evidence/<int:attachment_id>", evidence.evidence, name="evidence"),
    path("evidence/<int:attachment_id>/file", evidence.original, name="evidence_file"),
    path("evidence/<int:attachment_id>/picture", evidence.picture, name="evidence_picture"),
    path("first-offs", first_piece.first_pieces, name="first_offs"),
    path("first-offs/<int:step_id>", first_piece.first_piece, name="first_off"),
    path("holds", hold_list.holds, name="holds"),
    path("holds/<int:hold_id>", holds.hold, name="hold"),
    path("lots/<str:code>", lots.lot, name="lot"),
    path("lots/<str:code>/hold", lots.hold, name="lot_hold"),
    path("founder/behalf", behalf.behalf, name="behalf"),
    path("founder/clock", clock.clock, name="clock"),
    path("find", find.find, name="find"),
]

urlpatterns: list[URLPattern] = [*work, *goods]
