"""What the journal says of steps, loads, verdicts and holds: events told again in order, nothing judged anew."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from traveller.batches.models import Attachment, Batch, Load, Step, StepState
from traveller.batches.steps.states import end, move
from traveller.journal.models import Event

FIGURES = ("good", "scrap", "rework", "samples")
VerdictKey = tuple[int, str, int | None]
_Told = dict[str, Any]
# Event, what it does to the state of a step, and to what.
_Move = tuple[int, str, Any]


@dataclass
class Replay:
    """State columns as they follow from the events; rows are unsaved copies, keyed as the stored ones."""

    steps: dict[int, Step] = field(default_factory=dict)
    loads: dict[int, Load] = field(default_factory=dict)
    # event -> figures of the count row that it wrote, with `again` and the open cavities
    counts: dict[int, tuple[int, ...]] = field(default_factory=dict)
    readings: dict[int, list[list[Any]]] = field(default_factory=dict)
    # (step, check, load) -> the event of the latest verdict
    latest: dict[VerdictKey, int] = field(default_factory=dict)
    verdicts: dict[tuple[int, str, int | None], dict[str, Any]] = field(default_factory=dict)
    conceded: dict[tuple[int, str, int | None], int] = field(default_factory=dict)
    # (event, cause) -> lot
    opened: dict[tuple[int, str], int] = field(default_factory=dict)
    # hold -> (event, disposition)
    closed: dict[int, tuple[int, str]] = field(default_factory=dict)
    # event that sent it -> the attachment as it follows from what was told since
    attachments: dict[int, Attachment] = field(default_factory=dict)
    # event -> step, approved, decided at, what for
    first_pieces: dict[int, tuple[Any, ...]] = field(default_factory=dict)
    # hold that stays open -> what is to happen to its lot
    marked: dict[int, str] = field(default_factory=dict)
    _by_number: dict[tuple[int, int], int] = field(default_factory=dict)
    _children: dict[int, list[Batch]] = field(default_factory=lambda: defaultdict(list))
    _opened_by: dict[int, int] = field(default_factory=dict)
    _batch_of_lot: dict[int, int] = field(default_factory=dict)
    _lot_of_batch: dict[int, int] = field(default_factory=dict)
    _lot_of_hold: dict[int, int] = field(default_factory=dict)
    _sent_by: dict[int, int] = field(default_factory=dict)
    _lot_by_code: dict[str, int] = field(default_factory=dict)
    _root_holds: set[int] = field(default_factory=set)
    _load_by_uid: dict[str, int] = field(default_factory=dict)
    # step -> what moved its state, by event: told again without an event that did not occur
    _moves: dict[int, list[_Move]] = field(default_factory=lambda: defaultdict(list))
    # load -> its ends, by event
    _ends: dict[int, list[tuple[int, datetime, datetime | None, str]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    _load_born_at: dict[int, datetime] = field(default_factory=dict)
    _cavities: dict[int, int] = field(default_factory=dict)

    def tell(self, event: Event) -> None:
        """Let one event have its effect."""
        reported, step = event.data["told"], self.steps.get(event.data.get("step_id") or 0)
        if step and reported.get("open_cavities") is not None:
            self._move(event, step, "cavities", reported["open_cavities"])
        if step and event.kind in _OF_A_STEP:
            _OF_A_STEP[event.kind](self, event, reported, step)
        elif event.kind in _OF_OTHERS:
            _OF_OTHERS[event.kind](self, event, reported)
        if reported.get("readings"):
            self.readings[event.pk] = reported["readings"]

    def _move(self, event: Event, step: Step, what: str, value: Any = None) -> None:
        self._moves[step.pk].append((event.pk, what, value))
        move(step, what, value)

    def _begun(self, event: Event, reported: _Told, step: Step) -> None:
        self._move(event, step, "begin", event.happened_at)
        # Shots told when the cavities changed; those of a count come with it.
        step.shots += reported.get("shots", 0)

    def _reopened(self, event: Event, reported: _Told, step: Step) -> None:
        self._move(event, step, "again")

    def _finished(self, event: Event, reported: _Told, step: Step) -> None:
        self._move(event, step, "finish", event.happened_at)

    def _rerouted(self, event: Event, reported: _Told, step: Step) -> None:
        step.site_id = reported["site"]

    def _undone(self, event: Event, reported: _Told, step: Step) -> None:
        """The event that it names did not occur: its step is as if it had never been told."""
        found, wrong = event.data, event.corrects_id
        self._moves[step.pk] = [one for one in self._moves[step.pk] if one[0] != wrong]
        step.state, step.started_at, step.done_at = StepState.WAITING, None, None
        step.open_cavities = self._cavities[step.pk]
        for _, what, value in self._moves[step.pk]:
            move(step, what, value)
        if found["delta"]:
            self._add(event, step, found["delta"], again=found["again"], cavities=self.counts[wrong or 0][-1])
            step.shots += found["delta"]["shots"]
        step.shots -= found.get("shots", 0)
        load = self.loads.get(found["load"] or 0)
        if load:
            self._load_undone(event, load)
        for hold in found["closes"]:
            self.closed[hold] = (event.pk, "undone")

    def _problem_taken_back(self, event: Event, reported: _Told) -> None:
        for hold in event.data["closes"]:
            self.closed[hold] = (event.pk, "undone")

    def _load_undone(self, event: Event, load: Load) -> None:
        """A load whose start did not occur is none; one whose end did not occur ends as it did before."""
        if event.data["what"] == "load started":
            load.struck_by_id = event.pk
            self._forget([key for key in self.latest if key[2] == load.pk])
            return
        self._ends[load.pk] = [one for one in self._ends[load.pk] if one[0] != event.corrects_id]
        load.started_at, load.ended_at, load.late_reason = self._load_born_at[load.pk], None, ""
        for ended in self._ends[load.pk]:
            end(load, *ended[1:])

    def _counted(self, event: Event, reported: _Told, step: Step) -> None:
        self._move(event, step, "begin", event.happened_at)
        figures = {name: reported[name] for name in ("good", "rework", "samples")}
        figures["scrap"] = sum(reported["scrap"].values())
        self._add(event, step, figures, again=reported["again"], cavities=step.open_cavities)
        step.shots += reported["shots"]
        if reported["done"]:
            self._move(event, step, "finish", event.happened_at)
        if not any(figures.values()) and not reported["shots"] and not reported["used"]:
            del self.counts[event.pk]

    def _corrected(self, event: Event, reported: _Told, step: Step) -> None:
        corrected = self.counts.get(event.corrects_id or 0, (0,))
        self._add(event, step, event.data["delta"], again=event.data["again"], cavities=corrected[-1])

    def _add(self, event: Event, step: Step, figures: dict[str, int], *, again: bool, cavities: int = 0) -> None:
        self.counts[event.pk] = (*(figures[name] for name in FIGURES), int(again), cavities)
        if again:
            step.again_good += figures["good"]
            step.again_scrap += figures["scrap"]
            return
        for name in FIGURES:
            setattr(step, name, getattr(step, name) + figures[name])

    def _load_started(self, event: Event, reported: _Told, step: Step) -> None:
        self._move(event, step, "begin", event.happened_at)
        pk = self._load_by_uid.get(str(event.uid))
        if pk is not None:
            self._load_born_at[pk] = event.happened_at
            self.loads[pk] = Load(
                pk=pk,
                step_id=step.pk,
                number=event.data["load"],
                quantity=reported["quantity"],
                started_at=event.happened_at,
            )

    def _evidence(self, event: Event, reported: _Told, step: Step) -> None:
        """A log takes the place of the one before it, of the same load or of the whole step."""
        load = self._load_by_uid.get(reported["load"] or "")
        if reported["kind"] == "log":
            self._strike(event, lambda row: (row.step_id, row.load_id, row.kind) == (step.pk, load, "log"))
        self.attachments[event.pk] = Attachment(
            file_id=reported["digest"],
            event_id=event.pk,
            step_id=step.pk,
            load_id=load,
            kind=reported["kind"],
            name=reported["name"],
            answers=reported["answers"],
        )

    def _understood(self, event: Event, reported: _Told) -> None:
        sent = self.attachments.get(self._sent_by.get(reported["attachment"], 0))
        if sent:
            sent.answers = {**sent.answers, **reported["answers"]}

    def _first_piece(self, event: Event, reported: _Told, step: Step) -> None:
        self.first_pieces[event.pk] = (step.pk, reported["approved"], event.happened_at, event.data["made_with"])

    def _unknown(self, event: Event, reported: _Told) -> None:
        if "lot" in event.data:
            self.opened[event.pk, f"unknown:{event.pk}"] = self._lot_by_code.get(event.data["lot"], 0)

    def _matched(self, event: Event, reported: _Told) -> None:
        if event.data["hold"]:
            self.closed[event.data["hold"]] = (event.pk, "release" if reported["lot"] is None else "matched")

    def _strike(self, event: Event, fits: Callable[[Attachment], bool]) -> None:
        for row in self.attachments.values():
            if row.struck_by_id is None and fits(row):
                row.struck_by_id = event.pk

    def _load_ended(self, event: Event, reported: _Told) -> None:
        load = self.loads.get(reported["load"])
        if load is None:
            return
        started = datetime.fromisoformat(reported["started_at"]) if reported["started_at"] else None
        self._ends[load.pk].append((event.pk, event.happened_at, started, reported["late_reason"]))
        end(load, event.happened_at, started, reported["late_reason"])

    def _held(self, event: Event, reported: _Told) -> None:
        for child in self._children.get(event.pk, []):
            self._born(event, child, event.data["first_step"])
            self.opened[event.pk, f"held:{event.pk}"] = child.lot_id or 0
        if "lot" in reported:
            self.opened[event.pk, f"{event.kind}:{event.pk}"] = reported["lot"]
        elif event.kind == "problem reported":
            self.opened[event.pk, f"problem:{event.pk}"] = self._lot_of_batch.get(reported["batch"], 0)

    def _parted(self, event: Event, reported: _Told) -> None:
        """A surplus, or what was mixed, goes on as a batch of its own."""
        for child in self._children.get(event.pk, []):
            self._born(event, child, event.data["first_step"])
            if event.kind == "over tolerance":
                self.opened[event.pk, f"over:{event.pk}"] = child.lot_id or 0

    def _judged(self, event: Event, reported: _Told, step: Step) -> None:
        for row in event.data["verdicts"]:
            self.latest[step.pk, row["check"], row["load"]] = event.pk
            self.verdicts[event.pk, row["check"], row["load"]] = row
        for opening in event.data["opens"]:
            self.opened[event.pk, opening["cause"]] = self._lot_of_batch.get(step.batch_id, 0)
        parted = event.data["parted"]
        for hold in event.data["closes"]:
            self.closed[hold] = (event.pk, "parted" if parted else "evidence")
        for child in self._children.get(event.pk, []) if parted else []:
            self._born(event, child, step.number)
            own = self.steps[self._by_number[child.pk, step.number]]
            if parted["counted"]:
                self._move(event, own, "counted apart", event.happened_at)
            load = self.loads[parted["load"]]
            load.step_id = own.pk
            for row in self.attachments.values():
                if row.load_id == load.pk:
                    row.step_id = own.pk
            self._forget([key for key in self.latest if (key[0], key[2]) == (step.pk, load.pk)])

    def _decided(self, event: Event, reported: _Told) -> None:
        hold, disposition = reported["hold"], reported["disposition"]
        if disposition == "return":
            # It stays held until it is gone.
            self.marked[hold] = disposition
            return
        self.closed[hold] = (event.pk, disposition)
        batch = self._batch_of_lot.get(self._lot_of_hold.get(hold, 0), 0)
        if disposition == "concession" and event.data["cause"].startswith("check:") and hold in self._root_holds:
            _, number, check = event.data["cause"].split(":", 2)
            step = self._by_number.get((batch, int(number)), 0)
            for key, judged in self.latest.items():
                if key[:2] == (step, check):
                    self.conceded[judged, key[1], key[2]] = event.pk
        elif disposition == "rework":
            self._again(event, batch, reported["to_step"])

    def _adopted(self, event: Event, reported: _Told) -> None:
        """A batch taken over as it stood: what nobody had recorded here counts as conceded."""
        batch = self._opened_by.get(event.pk, 0)
        for number, state in event.data["states"].items():
            self._move(event, self.steps[self._by_number[batch, int(number)]], "state", state)
        for number, check in event.data["conceded"]:
            self.latest[self._by_number[batch, number], check, None] = event.pk
            verdict = {"outcome": "missing", "code": "before_this_record", "figures": {}}
            self.verdicts[event.pk, check, None] = verdict
            self.conceded[event.pk, check, None] = event.pk

    def _again(self, event: Event, batch: int, to_step: int) -> None:
        own = {pk for (of, number), pk in self._by_number.items() if of == batch and number >= to_step}
        for pk in own:
            self._move(event, self.steps[pk], "again")
        for load in self.loads.values():
            if load.step_id in own and load.struck_by_id is None:
                load.struck_by_id = event.pk
        self._strike(event, lambda row: row.step_id in own)
        self._forget([key for key in self.latest if key[0] in own])

    def _forget(self, keys: Iterable[VerdictKey]) -> None:
        for key in keys:
            del self.latest[key]

    def _born(self, event: Event, child: Batch, first_step: int) -> None:
        """Steps of a batch that was split off, as its parent's stood at that moment."""
        for (of, number), pk in list(self._by_number.items()):
            if of != child.pk:
                continue
            parent = self.steps[self._by_number[child.parent_id or 0, number]]
            self._move(event, self.steps[pk], "cavities", parent.open_cavities)
            self.steps[pk].site_id = parent.site_id
            if number == first_step and parent.started_at:
                self._move(event, self.steps[pk], "born", parent.started_at)


# What an event does to the step that it names; nothing where the journal no longer knows the step.
_OF_A_STEP: dict[str, Callable[[Replay, Event, _Told, Step], None]] = {
    "step started": Replay._begun,
    "measured": Replay._begun,
    "cavities changed": Replay._begun,
    "scrap found good": Replay._reopened,
    "rest moved": Replay._reopened,
    "step done": Replay._finished,
    "counted": Replay._counted,
    "count corrected": Replay._corrected,
    "load started": Replay._load_started,
    "evidence sent": Replay._evidence,
    "judged": Replay._judged,
    "first-off decided": Replay._first_piece,
    "step rerouted": Replay._rerouted,
    "undone": Replay._undone,
}
_OF_OTHERS: dict[str, Callable[[Replay, Event, _Told], None]] = {
    "load ended": Replay._load_ended,
    "held": Replay._held,
    "problem reported": Replay._held,
    "problem taken back": Replay._problem_taken_back,
    "part held": Replay._held,
    "log understood": Replay._understood,
    "decided": Replay._decided,
    "adopted": Replay._adopted,
    "over tolerance": Replay._parted,
    "mixed": Replay._parted,
    "split": Replay._parted,
    "recombined": Replay._parted,
    "arrived unknown": Replay._unknown,
    "unknown matched": Replay._matched,
}
REPLAYED = (*_OF_A_STEP, *_OF_OTHERS)
