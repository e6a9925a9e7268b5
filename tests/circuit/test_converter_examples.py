"""The examples in the docstrings of the formulas' modules, and what every one of them must state."""

from __future__ import annotations

import doctest
import importlib
import math
import pkgutil

import pytest

import derate.circuit

MODULES = [found.name for found in pkgutil.iter_modules(derate.circuit.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    module = importlib.import_module(f"derate.circuit.{name}")
    result = doctest.testmod(module)
    assert result.failed == 0


def test_most_modules_have_examples():
    tried = {name: doctest.testmod(importlib.import_module(f"derate.circuit.{name}")).attempted for name in MODULES}
    assert len([name for name, attempted in tried.items() if attempted]) > len(MODULES) / 2


def _tables(module, ending):
    return [table for name, table in vars(module).items() if name.endswith(ending) and isinstance(table, dict)]


def test_tables_are_found_under_every_name():
    found = [name for name in MODULES if _tables(importlib.import_module(f"derate.circuit.{name}"), "SIGNS")]
    assert len(found) > 12


@pytest.mark.parametrize("name", MODULES)
def test_bands_and_signs_are_well_formed(name):
    module = importlib.import_module(f"derate.circuit.{name}")
    for table in _tables(module, "ERROR"):
        for label, (low, high) in table.items():
            assert -1 <= low <= 0 <= high and not math.isnan(high), label
    for table in _tables(module, "SIGNS"):
        for label, signs in table.items():
            # one map an output, several where each names a corner that is run, or the map itself
            for corner in signs if isinstance(signs, tuple) else (signs,):
                found = corner.values() if isinstance(corner, dict) else (corner,)
                assert found and set(found) <= {-1, 0, 1}, label
