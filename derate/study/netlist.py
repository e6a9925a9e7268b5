"""Netlists of a design at its cases, and what ngspice makes of them held to the ledger."""

from __future__ import annotations

import re
import subprocess
import tempfile
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import NamedTuple

from derate.ledger.entry import Case, Entry
from derate.stress.netlist import Netlist, Probe, mains_netlist, names_of, range_of, refused, text_of
from derate.study.work import Work
from derate.terms.quantities import FULL_LOAD, full_load_of
from derate.terms.values import Value
from derate.topologies import topology_of

WITHIN = 0.005  # what ngspice and the solvers may differ by; argued in tests/stress/test_line_comparisons.py
CONVERTER = "converter"  # the word for the stage behind the bulk, where a topology writes one
_LONGEST_RUN = 300  # [s]


class Compared(NamedTuple):
    """One figure of a run beside the ledger's. inside: whether the ledger's range holds it, by half a per cent"""

    probe: Probe
    row: Entry
    found: float | None
    inside: bool


def cases_of(work: Work) -> tuple[Case, ...]:
    """The cases of a design that a netlist can be written of: running at full load, each mains and frequency once."""
    found: dict[tuple[float, float], Case] = {}
    for one in work.ledger.entries:
        case = one.case
        if case is None or case.group != "running" or case.fault or not isinstance(one.value, Value):
            continue
        if case.mains is not None and case.frequency is not None and case.load == "full" and case.ambient is None:
            if one.quantity in ("current_rms", "ripple_current"):
                found.setdefault((case.mains, case.frequency), case)
    return tuple(found[key] for key in sorted(found))


def case_named(cases: Sequence[Case], text: str) -> Case:
    """The one case whose words hold those of a text, such as `90 V 63 Hz`. Raises ReadingError."""
    words = re.findall(r"[\w.-]+", text)
    fits = [one for one in cases if set(words) <= set(re.findall(r"[\w.-]+", str(one)))]
    if len(fits) == 1:
        return fits[0]
    there = "; ".join(map(str, fits or cases))
    what = f"'{text[:60]}' is no case of this design" if not fits else f"'{text[:60]}' fits {len(fits)} cases"
    if not cases:
        raise refused("no case of this design was worked out", "derate missing says what lacks")
    raise refused(what, f"there are: {there}" if not fits else f"say which: {there}")


def netlist(work: Work, text: str) -> Netlist:
    """The netlist of a design at the case that a text names. Raises ReadingError where it cannot be written.

    text: such as `90 V 63 Hz`; with `converter` ahead the stage behind the bulk, where its topology writes one, and of
    one with several outputs `12V full` besides, where that one alone is full and the others take their least
    """
    words = text.replace(",", " ").split()
    behind = CONVERTER in words
    structure = work.design.structure
    alone = _alone(words, structure.outputs) if behind else None
    if alone is not None:
        del words[alone : alone + 2]
    case = case_named(cases_of(work), " ".join(one for one in words if one != CONVERTER))
    stated = work.design.file.supply.topology
    topology = topology_of(stated.word) if stated is not None else None
    own = topology.netlist if topology is not None else None
    if structure.mains is not None and structure.mains.bulk and not behind:
        made = mains_netlist(structure, work.ledger, case)
    elif own is not None:
        name = text.replace(",", " ").split()[alone] if alone is not None else ""
        made = own(structure, work.ledger, case._replace(load=full_load_of(name)) if name else case)
    else:
        what = "the stage behind the bulk" if behind else "this supply"
        raise refused(f"no netlist is written of {what}", "a mains input with its bulk capacitor has one")
    if not made.probes:
        raise refused("nothing was worked out at this case that a netlist could show", "derate stress says why")
    return made


def _alone(words: Sequence[str], outputs: Collection[str]) -> int | None:
    """Where an output is named that is full by itself; None where none is, or there is no other."""
    pairs = enumerate(zip(words, words[1:], strict=False))
    found = [at for at, (one, said) in pairs if one in outputs and said == FULL_LOAD]
    return found[0] if found and len(outputs) > 1 else None


def run(made: Netlist, name: str) -> tuple[Compared, ...]:
    """Run the netlist in ngspice. Raises ReadingError where that is not there, or does not end."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "case.cir").write_text(text_of(made, name), encoding="utf-8")
        try:
            done = subprocess.run(
                ["ngspice", "-b", "case.cir"],
                cwd=folder,
                capture_output=True,
                text=True,
                errors="replace",
                timeout=_LONGEST_RUN,
                check=False,
            )
        except FileNotFoundError:
            instead = "install it, or write the netlist without --run"
            raise refused("running a netlist needs ngspice, which is not there", instead) from None
        except subprocess.TimeoutExpired:
            raise refused("ngspice did not come to an end", "try another case") from None
    found = {one[1]: float(one[2]) for one in re.finditer(r"^(m\d+)\s*=\s*([-+.\deE]+)", done.stdout, re.MULTILINE)}
    compared = []
    for called, (probe, row) in zip(names_of(made), made.probes, strict=True):
        value = found.get(called)
        low, high = range_of(probe, row)
        inside = value is not None and low * (1.0 - WITHIN) <= value <= high * (1.0 + WITHIN)
        compared.append(Compared(probe, row, value, inside))
    return tuple(compared)
