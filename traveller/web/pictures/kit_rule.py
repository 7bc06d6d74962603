"""The kit rule: how many kits can be assembled now, what limits them, and where its next pieces are.

One bar a component, measured in kits and cut by readiness; an upright rule where the shortest solid length ends.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from traveller.web.pictures.ink import (
    CARD,
    DRAWN_INK,
    LINE,
    RULE,
    STOP,
    Hatch,
    Text,
    el,
    fit_text,
    hatches,
    num,
    sheet,
    text_width,
)

_Ready = Literal["here", "one", "two", "road", "held"]
ORDER: tuple[_Ready, ...] = ("here", "one", "two", "road", "held")
_HATCH: dict[_Ready, Hatch] = {"one": "one", "two": "two", "road": "road", "held": "held"}
BAR = 22
SIZE = 13


@dataclass(frozen=True)
class Bar:
    """A component: its pieces by readiness, how many a kit takes, and a word for the bar's end ("limits")."""

    name: str
    pieces: tuple[tuple[_Ready, int], ...]
    per_kit: int = 1
    note: str = ""


@dataclass(frozen=True)
class Words:
    """What the drawing says; English unless the page brings its own. `{n}` is the number."""

    here: str = "here"
    one: str = "one step off"
    two: str = "two steps off"
    road: str = "on the road"
    held: str = "held"
    now: str = "{n} kits can be assembled now"
    wanted: str = "{n} wanted"
    number: Callable[[int], str] = field(default="{:,}".format)

    def ready(self, kind: _Ready) -> str:
        """Return the word of a readiness."""
        return {"here": self.here, "one": self.one, "two": self.two, "road": self.road, "held": self.held}[kind]


@dataclass(frozen=True)
class KitRule:
    """What the rule shows; `kits_now` comes from rules/kits, the sentence is read out in place of the drawing."""

    bars: tuple[Bar, ...]
    kits_now: int
    sentence: str
    wanted: int | None = None
    words: Words = Words()


@dataclass(frozen=True)
class _Length:
    """A drawn length of a bar in px, with the kits it stands for; a key length explains its hatch."""

    kind: _Ready
    x: float
    y: float
    width: float
    kits: float = 0
    key: bool = False


@dataclass
class _Layout:
    """Where everything lies, so that tests can measure what the eye sees."""

    width: float
    height: float = 0
    left: float = 0
    per_kit_px: float = 1
    lengths: list[_Length] = field(default_factory=list)
    torn: list[tuple[float, float]] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    white: set[int] = field(default_factory=set)
    tops: list[float] = field(default_factory=list)
    rule_x: float = 0
    wanted_x: float | None = None
    foot: float = 0


def lay_out(rule: KitRule, width: float = 1120) -> _Layout:
    """Return the places of bars and labels; a narrow drawing sets each name above its bar."""
    narrow = width < 600
    plan = _Layout(width)
    names = max((text_width(bar.name, SIZE) * 1.08 for bar in rule.bars), default=0)
    plan.left = 0 if narrow else min(names + 18, width / 4)
    room = width - plan.left - (4 if narrow else width * 0.2)
    plan.per_kit_px = room / _scale_kits(rule)
    plan.rule_x = plan.left + min(rule.kits_now * plan.per_kit_px, room)
    y = _heads(rule, plan)
    for bar in rule.bars:
        y = _lay_bar(rule, bar, plan, y, room, narrow)
    plan.foot = y - 4
    y = _legend(rule, plan, y + 12)
    plan.height = y
    return plan


def _scale_kits(rule: KitRule) -> float:
    """Return the kits at the right end: one component in plenty must not squeeze the rest to nothing."""
    totals = [sum(n for _, n in bar.pieces) / max(bar.per_kit, 1) for bar in rule.bars]
    asked = max(rule.kits_now, rule.wanted or 0)
    longest = max([*totals, rule.kits_now, 1])
    return max(min(longest, 2 * asked) if asked else longest, 1)


def _heads(rule: KitRule, plan: _Layout) -> float:
    """Place the rule's own words and the wanted mark, each on a row of its own; return where bars begin.

    Under 600 px the words stand at the edge, each behind a short piece of its line, as in a key.
    """
    narrow = plan.width < 600
    words = rule.words.now.format(n=rule.words.number(rule.kits_now))
    at = 14 if narrow else _inside(plan, plan.rule_x + 8, words, 14)
    plan.texts.append(Text(at, 15, fit_text(words, (plan.width - 16) / 1.08, 14), 14, bold=True))
    if rule.wanted is None:
        return 30
    plan.wanted_x = plan.left + rule.wanted * plan.per_kit_px
    asked = rule.words.wanted.format(n=rule.words.number(rule.wanted))
    at = 14 if narrow else _inside(plan, plan.wanted_x + 6, asked, 12)
    plan.texts.append(Text(at, 33, fit_text(asked, (plan.width - 16) / 1.08, 12), 12, soft=True, plate=True))
    return 46


def _inside(plan: _Layout, x: float, words: str, size: float) -> float:
    return max(0, min(x, plan.width - text_width(words, size) * 1.08 - 2))


def _lay_bar(rule: KitRule, bar: Bar, plan: _Layout, y: float, room: float, narrow: bool) -> float:
    """Place one component's lengths and labels; return the next component's top."""
    if narrow:
        plan.texts.append(Text(0, y + 11, fit_text(bar.name, plan.width / 1.1, SIZE), SIZE, bold=True))
        y += 17
    else:
        plan.texts.append(Text(0, y + 16, fit_text(bar.name, (plan.left - 12) / 1.08, SIZE), SIZE, bold=True))
    x, end = plan.left, plan.left + room
    spare: list[str] = []
    for kind, pieces in sorted(bar.pieces, key=lambda part: ORDER.index(part[0])):
        if pieces <= 0:
            continue
        kits = pieces / max(bar.per_kit, 1)
        long = min(kits * plan.per_kit_px, end - x)
        if long > 0:
            plan.lengths.append(_Length(kind, x, y, long, kits))
        label = f"{rule.words.number(pieces)} {rule.words.ready(kind)}"
        start = _clear_of_rule(plan.rule_x, x + 9, label)
        if start + text_width(label, SIZE) + 9 <= x + long:
            if kind == "here":
                plan.white.add(len(plan.texts))
            plan.texts.append(Text(start, y + 16, label, SIZE))
        else:
            spare.append(label)
        if kits * plan.per_kit_px > long + 0.5 and (not plan.torn or plan.torn[-1][1] != y):
            plan.torn.append((end, y))
        x += long
    return _bar_end(plan, x, y, [(bar.note, True), *((words, False) for words in spare)])


def _clear_of_rule(rule_x: float, start: float, label: str) -> float:
    """Return where a label inside a bar begins, so that the rule never strikes it through."""
    crossed = start - 5 < rule_x < start + text_width(label, SIZE) + 5
    return rule_x + 9 if crossed else start


def _bar_end(plan: _Layout, x: float, y: float, tail: list[tuple[str, bool]]) -> float:
    """Place what did not fit inside: after the bar when there is room, else on lines under it."""
    plan.tops.append(y)
    tail = [(fit_text(words, (plan.width - plan.left) / 1.1, SIZE), bold) for words, bold in tail if words]
    wide = [text_width(words, SIZE) * (1.08 if bold else 1) + 12 for words, bold in tail]
    if not tail or x + 10 + sum(wide) <= plan.width:
        at, base, below = x + 10, y + 16, y + BAR
    else:
        at, base = plan.left, y + BAR + 14
        below = base + 3
    for (words, bold), room in zip(tail, wide, strict=True):
        if at + room > plan.width + 12 and at > plan.left:
            at, base = plan.left, base + 16
            below = base + 3
        plan.texts.append(Text(at, base, words, SIZE, bold=bold, soft=not bold, plate=True))
        at += room
    return below + 12


def _legend(rule: KitRule, plan: _Layout, y: float) -> float:
    """Place the key of the readiness kinds in use; return the drawing's height."""
    used = [kind for kind in ORDER if any(k == kind and n > 0 for bar in rule.bars for k, n in bar.pieces)]
    x = plan.left
    for kind in used:
        wide = text_width(rule.words.ready(kind), 12) + 44
        if x + wide > plan.width and x > plan.left:
            x, y = plan.left, y + 22
        plan.lengths.append(_Length(kind, x, y, 20, key=True))
        plan.texts.append(Text(x + 26, y + 10, rule.words.ready(kind), 12, soft=True))
        x += wide
    return y + 18


def kit_rule(rule: KitRule, width: float = 1120, prefix: str = "kit") -> str:
    """Return the drawing; `prefix` must differ between two kit rules on one page."""
    plan = lay_out(rule, width)
    used = [_HATCH[length.kind] for length in plan.lengths if length.kind in _HATCH]
    body = [hatches(prefix, used)]
    for length in plan.lengths:
        fill = RULE if length.kind == "here" else f"url(#{prefix}-{length.kind})"
        tall = 12 if length.key else BAR
        body.append(el("rect", x=length.x, y=length.y, width=length.width, height=tall, fill=fill, stroke=DRAWN_INK))
    body.extend(_tear(x, y) for x, y in plan.torn)
    body.extend(_upright(plan))
    for place, text in enumerate(plan.texts):
        inside = any(_holds(length, text) for length in plan.lengths if length.kind != "here" and not length.key)
        if inside:
            left, top, right, bottom = text.box
            body.append(el("rect", x=left - 4, y=top - 2, width=right - left + 8, height=bottom - top + 4, fill=CARD))
        body.append(text.svg("#fff" if place in plan.white else None))
    return sheet(plan.width, plan.height, rule.sentence, body)


def _holds(length: _Length, text: Text) -> bool:
    return length.x <= text.x < length.x + length.width and length.y < text.base < length.y + BAR


def _tear(x: float, y: float) -> str:
    """Return a torn edge: the bar goes on, the paper does not."""
    points = [(x - 3 + (4 if i % 2 else -2), y - 1 + i * 4) for i in range(7)]
    steps = "".join(f"l{b[0] - a[0]} {b[1] - a[1]}" for a, b in pairwise(points))
    edge = f"M{points[0][0]:.1f} {points[0][1]:.1f}{steps}"
    return el("path", d=f"{edge}h8v-24z", fill=CARD) + el("path", d=edge, fill="none", stroke=DRAWN_INK)


def _upright(plan: _Layout) -> list[str]:
    """Return the rule itself and the thin line of what is wanted; on a phone they cross the bars only."""
    lines = [el("path", d=f"M{num(plan.left)} {num(plan.foot)}H{num(plan.width)}", stroke=LINE)]
    if plan.width < 600:
        spans = [(top - 3.0, top + BAR + 3.0) for top in plan.tops]
        places = [(plan.wanted_x, *span) for span in spans] + [(4.0, 22.0, 36.0)]
        rules = [(plan.rule_x, *span) for span in spans] + [(4.0, 2.0, 18.0)]
    else:
        places, rules = [(plan.wanted_x, 24.0, plan.foot)], [(plan.rule_x, 2.0, plan.foot)]
    for x, top, bottom in places:
        if x is not None and plan.wanted_x is not None:
            d = f"M{num(x)} {num(top)}V{num(bottom)}"
            lines.append(el("path", d=d, stroke=DRAWN_INK, stroke_width=1.5, stroke_dasharray="5 4"))
    for x, top, bottom in rules:
        lines.append(el("path", d=f"M{num(x)} {num(top)}V{num(bottom)}", stroke=STOP, stroke_width=4))
    return lines
