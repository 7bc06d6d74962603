"""`manage.py trial` lists the trials, starts one by its name, and ends as the trial ended."""

from __future__ import annotations

import io
from types import ModuleType

import pytest
from django.core.management import CommandError, call_command

from traveller.management import trials


def stand_in(code: int) -> trials.Trial:
    """A trial that ends with this code and says what it was given."""

    def run(seed: int, *, short: bool, out: trials.Out) -> int:
        out(f"seed {seed}, short {short}")
        return code

    return trials.Trial("calm", "nothing happens", run)


@pytest.fixture
def one_trial(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    """The command knows a single trial, which ends with the code of the test."""
    trial = stand_in(request.param)
    monkeypatch.setattr(trials, "names", lambda: [trial.name])
    monkeypatch.setattr(trials, "find_trial", lambda name: {trial.name: trial}[name])


@pytest.mark.parametrize("one_trial", [0], indirect=True)
@pytest.mark.usefixtures("one_trial")
def test_without_a_name_the_trials_are_listed_with_a_line_each() -> None:
    said = io.StringIO()
    call_command("trial", stdout=said)
    assert said.getvalue() == "calm  nothing happens\n"


@pytest.mark.parametrize("one_trial", [0], indirect=True)
@pytest.mark.usefixtures("one_trial")
def test_a_trial_is_given_its_seed_and_its_form() -> None:
    said = io.StringIO()
    call_command("trial", "calm", "--seed", "7", "--short", stdout=said)
    assert said.getvalue() == "seed 7, short True\n"


@pytest.mark.parametrize("one_trial", [1], indirect=True)
@pytest.mark.usefixtures("one_trial")
def test_a_missed_goal_is_the_exit_code() -> None:
    with pytest.raises(SystemExit) as ended:
        call_command("trial", "calm", stdout=io.StringIO())
    assert ended.value.code == 1


@pytest.mark.parametrize("one_trial", [0], indirect=True)
@pytest.mark.usefixtures("one_trial")
def test_an_unknown_name_is_refused_with_the_names_there_are() -> None:
    with pytest.raises(CommandError, match="no trial 'storm'"):
        call_command("trial", "storm", stdout=io.StringIO())


def test_every_trial_in_the_folder_says_what_it_is() -> None:
    for name in trials.names():
        assert trials.find_trial(name).title


def test_a_module_that_is_no_trial_is_named() -> None:
    with pytest.raises(TypeError, match="calm is no trial"):
        trials.trial_of("calm", ModuleType("calm"))
