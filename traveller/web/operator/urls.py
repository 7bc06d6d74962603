"""A shop's pages: scan, one task, done."""

from __future__ import annotations

from django.urls import path

from traveller.web.operator import (
    arriving,
    correct,
    count,
    keep,
    labels,
    loads,
    measure,
    problem,
    proof,
    queue,
    returning,
    scan,
    sending,
    sent,
    step,
    surprise,
    today,
    told,
    undo,
)

urlpatterns = [
    path("", today.today, name="here"),
    path("keep", keep.keep, name="here_keep"),
    path("unsent", keep.unsent, name="here_unsent"),
    path("queue", queue.queue, name="here_queue"),
    path("scan", scan.typed, name="here_scan"),
    path("photo", scan.photo, name="here_photo"),
    path("t/<str:code>", scan.scanned, name="here_code"),
    path("t/<str:code>/<int:step>", scan.scanned, name="here_code_step"),
    path("step/<int:step_id>", step.step, name="here_step"),
    path("step/<int:step_id>/start", step.start, name="here_start"),
    path("step/<int:step_id>/done", step.finish, name="here_finish"),
    path("step/<int:step_id>/count", count.count, name="here_count"),
    path("step/<int:step_id>/measure", measure.measure_step, name="here_measure"),
    path("step/<int:step_id>/load", loads.load_in, name="here_load_in"),
    path("load/<int:load_id>/out", loads.load_out, name="here_load_out"),
    path("step/<int:step_id>/proof", proof.send_proof, name="here_proof"),
    path("proof/<int:attachment_id>", proof.proof_seen, name="here_proof_seen"),
    path("proof/<int:attachment_id>/picture", proof.proof_picture, name="here_proof_picture"),
    path("told/<uuid:uid>", told.told, name="here_told"),
    path("told/<uuid:uid>/correct", correct.correct, name="here_correct"),
    path("problem/<str:code>", problem.problem, name="here_problem"),
    path("send", sending.send_goods, name="here_send"),
    path("return", returning.send_back, name="here_return"),
    path("sent/<str:code>", sent.sent, name="here_sent"),
    path("told/<uuid:uid>/undo", undo.take_back, name="here_undo"),
    path("sent/<str:code>/note", sent.note, name="here_note"),
    path("arrival/<str:code>", arriving.arrival, name="here_arrival"),
    path("unannounced", surprise.unannounced, name="here_unannounced"),
    path("label/<str:code>", labels.label, name="here_label"),
]
