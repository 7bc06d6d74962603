"""Days that the founder types: within this trade's time, else asked again with what was typed."""

from __future__ import annotations

import datetime as dt
import importlib
import pkgutil

import pytest
from django import forms

from traveller.rules.moments import EARLIEST, LATEST
from traveller.web import founder
from traveller.web.founder.desk.days import DayField
from traveller.web.founder.subcontractors.closing_forms import CloseForm


@pytest.mark.parametrize("typed", ["2000-01-01", "2026-12-24", "2199-12-31"])
def test_a_day_of_this_trade_is_taken(typed: str) -> None:
    assert DayField().clean(typed) == dt.date.fromisoformat(typed)


@pytest.mark.parametrize("typed", ["0001-01-01", "0026-12-24", "1999-12-31", "2200-01-01", "9999-12-31"])
def test_a_slip_of_the_year_is_said_and_what_was_typed_stays(typed: str) -> None:
    form = CloseForm({"on": typed, "reason": "moves"})
    assert form.errors["on"] == [f"{typed} lies too far from today. Check the year."]
    assert f'value="{typed}"' in str(form["on"])


def test_an_empty_day_is_none_where_none_is_asked_for() -> None:
    assert DayField(required=False).clean("") is None
    with pytest.raises(forms.ValidationError):
        DayField().clean("")


def test_the_browsers_calendar_ends_where_the_trades_time_ends() -> None:
    text = str(CloseForm()["on"])
    assert f'min="{EARLIEST:%Y-%m-%d}"' in text and f'max="{LATEST:%Y-%m-%d}"' in text


def test_every_day_that_the_founder_types_is_such_a_day() -> None:
    """A new form with a plain field would take any year again."""
    found = []
    for module in pkgutil.walk_packages(founder.__path__, f"{founder.__name__}."):
        for form in vars(importlib.import_module(module.name)).values():
            if isinstance(form, type) and issubclass(form, forms.Form):
                found += [field for field in form.base_fields.values() if isinstance(field, forms.DateField)]
    assert len(found) >= 4
    assert all(isinstance(field, DayField) for field in found)
