"""The examples in the docstrings of the converter's modules, and what every one of them must state."""

from __future__ import annotations

import doctest
import importlib
import math

import pytest

MODULES = [
    "bands",
    "clamp",
    "clamp_zener",
    "converter_faults",
    "flyback",
    "flyback_boundary",
    "life",
    "magnetics",
    "output_stage",
    "secondary",
    "secondary_current",
    "thermal",
    "working_voltage",
]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    module = importlib.import_module(f"derate.circuit.{name}")
    result = doctest.testmod(module)
    assert result.failed == 0
    assert result.attempted > 0


@pytest.mark.parametrize("name", MODULES)
def test_bands_and_signs_are_well_formed(name):
    module = importlib.import_module(f"derate.circuit.{name}")
    for label, band in getattr(module, "ERROR", {}).items():
        low, high = band
        assert -1 < low <= 0 <= high and not math.isnan(high), label
    for label, signs in getattr(module, "SIGNS", {}).items():
        assert signs and set(signs.values()) <= {-1, 0, 1}, label
