"""A name misspelt in the code is refused: by its type where it is written, by `named` where it is put together.

The snippet is checked as the project is, with mypy --strict; each line that has to be refused says so itself.
"""

from __future__ import annotations

import ast
import importlib.util
import re
from pathlib import Path
from typing import get_args

import pytest
from mypy import api

import derate
from derate.packs.load import load_packs, shipped
from derate.terms import quantities as cases
from derate.terms.quantities import QUANTITIES, named
from derate.terms.quantity_names import QuantityName
from derate.terms.vocabulary import STEPS, VOCABULARY

CODE = Path(derate.__file__).parent
ROOT = CODE.parent
SNIPPET = '''
from derate.ledger.entry import SUPPLY, Case
from derate.ledger.ledger import Ledger
from derate.ledger.ledger import Model
from derate.stress.context import Context, part
from derate.stress.context import AXES, CasePlan
from derate.terms import quantities as cases
from derate.terms.quantities import FULL_LOAD, RUNNING
from derate.terms.quantities import each, paired


def asked(context: Context, ledger: Ledger, plan: CasePlan, model: Model) -> None:
    context.fact(part("R1"), "current_peak", Case(RUNNING, load=FULL_LOAD))
    context.fact(part("R1"), "curent_peak")  # refused
    context.need(part("R1"), "rated.pwer")  # refused
    context.value(part("R1"), "site.ambiant")  # refused
    context.word(part("R1"), "part.knid")  # refused
    context.curve(part("R1"), "rated.curent")  # refused
    context.assume("mains_resistance", SUPPLY, "site.mains_resistance")
    context.assume("mains_resistance", SUPPLY, "site.mains_resistence")  # refused
    ledger.write(SUPPLY, "power_drawn", None)
    ledger.write(SUPPLY, "power_drown", None)  # refused
    ledger.hole(SUPPLY, "power_drown", ())  # refused
    ledger.find(SUPPLY, "power_drown")  # refused
    ledger.rows(SUPPLY, "power_drown")  # refused
    ledger.work_out(model, {}, [(SUPPLY, "power_drawn", "power")])
    ledger.work_out(model, {}, [(SUPPLY, "power_drown", "power")])  # refused
    plan.cases(["duty"], [RUNNING])
    plan.cases(["dutty"], [RUNNING])  # refused
    plan.cases(["duty"], ["runing"])  # refused
    plan.project("dutty", Case(RUNNING))  # refused
    Case("runing")  # refused
    Case(RUNNING, load="ful")  # refused
    Case(cases.RUNING)  # refused
    AXES["runing"]  # refused
    AXES[RUNNING]["dutty"]  # refused
    each("duty", "dutty")  # refused
    paired(("dutty", "duty"))  # refused
'''


def test_a_misspelt_name_is_refused_where_it_is_written(tmp_path: Path) -> None:
    snippet = tmp_path / "snippet.py"
    snippet.write_text(SNIPPET, encoding="utf-8")
    said, trouble, _ = api.run(
        ["--strict", "--config-file=", f"--cache-dir={ROOT / '.mypy_cache'}", "--hide-error-context", str(snippet)]
    )
    # by the file's name: what mypy tells from its cache carries the folder of an earlier run
    refused = {int(number) for number in re.findall(r"^\S*snippet\.py:(\d+): error: ", said, re.MULTILINE)}
    wanted = {number for number, line in enumerate(SNIPPET.splitlines(), 1) if line.endswith("# refused")}
    assert not trouble
    assert refused == wanted


def test_the_type_is_the_vocabulary() -> None:
    assert set(get_args(QuantityName)) == {*VOCABULARY, *STEPS}
    assert not set(STEPS) & set(VOCABULARY)
    spec = importlib.util.spec_from_file_location("quantity_names_tool", ROOT / "tools" / "quantity_names.py")
    assert spec is not None and spec.loader is not None
    tool = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(tool)
    assert tool.text() == tool.TARGET.read_text(encoding="utf-8"), "run python tools/quantity_names.py"


def test_a_name_that_is_put_together_is_looked_up() -> None:
    assert named("rated." + "power") == "rated.power"
    for wrong in ("rated.pwer", "", "power ", "needed.clearance in 60664-1"):
        with pytest.raises(KeyError, match="no such quantity"):
            named(wrong)
    assert "power" in QUANTITIES


def test_a_group_that_was_read_is_looked_up() -> None:
    assert cases.group_of("cold start") == cases.COLD_START
    for wrong in ("cold-start", "runing", cases.READING, "fault path"):
        with pytest.raises(KeyError, match="no such group"):
            cases.group_of(wrong)


def test_every_word_of_a_group_has_its_constant() -> None:
    constants = {value for name, value in vars(cases).items() if name.isupper() and value in cases.GROUPS}
    assert constants == {*cases.PACK_GROUPS, cases.READING}


def _asked() -> set[str]:
    """Names of assumptions that the code writes out."""
    found = set()
    for path in sorted((CODE / "stress").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            at = {"assume": 0, "assumed": 1}.get(called)
            if at is not None and len(node.args) > at and isinstance(given := node.args[at], ast.Constant):
                found.add(str(given.value))
    return found


def test_every_assumption_that_the_code_asks_for_is_made_by_a_shipped_pack() -> None:
    made = {name for _, name in load_packs([path.stem for path in sorted(shipped("rules").glob("*.yaml"))]).assumptions}
    asked = _asked()
    assert len(asked) > 15
    assert asked <= made
