"""Small rooms: nothing grows past what one can read at once, and what is called from outside says what it does."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path

from tests.architecture.measures import too_branched, too_long, without_docstring
from tests.architecture.tree import ROOT, modules

COMPLEXITY_MAX = 15
# Where others call: figures have units there, refusals a code.
EXPLAINED = ("traveller/rules", "traveller/exchange")


def product() -> list[Path]:
    """Every module of the product."""
    return [*modules("traveller", "sites"), ROOT / "manage.py"]


def named(paths: Iterable[Path], wrong_in: Callable[[str], list[str]]) -> str:
    """What is wrong in these modules, a line each with its place."""
    texts = ((path.relative_to(ROOT), path.read_text(encoding="utf-8")) for path in paths)
    return "\n".join(f"{path}:{wrong}" for path, text in texts for wrong in wrong_in(text))


def test_no_module_of_the_product_is_longer_than_350_lines_and_no_function_than_60() -> None:
    wrong = named(product(), partial(too_long, module=350, function=60))
    assert not wrong, wrong


def test_no_module_of_the_tests_is_longer_than_400_lines_and_no_function_than_70() -> None:
    wrong = named(modules("tests"), partial(too_long, module=400, function=70))
    assert not wrong, wrong


def test_no_function_of_the_product_branches_more_than_15_ways() -> None:
    wrong = named(product(), partial(too_branched, most=COMPLEXITY_MAX))
    assert not wrong, wrong


def test_all_that_is_public_in_rules_actions_and_exchange_says_what_it_takes_and_gives() -> None:
    actions = [path for path in product() if "actions" in path.parts]
    assert len(actions) > 40, "the actions are not where this test looks for them"
    wrong = named([*modules(*EXPLAINED), *actions], without_docstring)
    assert not wrong, wrong


def test_what_is_wrong_in_a_module_is_named_with_its_place() -> None:
    wrong = named([Path(__file__)], partial(too_branched, most=0))
    assert "tests/architecture/test_sizes.py:" in wrong and " named: complexity 4" in wrong


def test_no_module_is_a_drawer_for_everything() -> None:
    drawers = {"utils", "util", "helpers", "misc", "common"}
    wrong = [path for path in (ROOT / "traveller").rglob("*") if path.stem in drawers and path.is_file()]
    assert not wrong


def test_the_top_level_holds_what_it_should_and_nothing_else() -> None:
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "manage.py",
        "pyproject.toml",
        "requirements.lock",
        "traveller",
        "sites",
        "tests",
        "fixtures",
    }
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith((".", "__pycache__"))}
    assert found <= allowed, f"does not belong at the top: {sorted(found - allowed)}"
