"""The worked examples in the docstrings of the rules run and give what they say."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import traveller.rules

MODULES = [module.name for module in pkgutil.iter_modules(traveller.rules.__path__, "traveller.rules.")]


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_run(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples_to_run() -> None:
    finder = doctest.DocTestFinder(exclude_empty=True)
    found = [test for name in MODULES for test in finder.find(importlib.import_module(name)) if test.examples]
    assert len(found) >= 6
