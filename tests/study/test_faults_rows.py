"""The list of single faults: rows from the ledger, tests of the sample beside them, JSON, text."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from derate.cli.main import main
from derate.design.load import Design, load_design, read_design
from derate.judge.review import Gate
from derate.ledger.ledger import Ledger
from derate.report.faults import FAULTS_CAUTION, fault_lines, fault_screen, faults_json, note_of
from derate.report.schemas import FAULTS
from derate.stress.faults.neutral import NAME
from derate.study.faults import FaultRow, design_faults, fault_rows, outcomes_without_row
from derate.study.work import Workshop

ROOT = Path(__file__).parent.parent.parent
STYLES = ROOT / "tests" / "data" / "styles"
SOUND = ROOT / "designs" / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
PACKS = ("commercial-practice", "mains-fusing", "mains-events")
WORDS = ("shown", "not shown", "nothing to open")


def listed(path: Path) -> tuple[Design, Ledger, tuple[FaultRow, ...]]:
    """A design, its ledger and its faults under the shipped packs."""
    work = Workshop(PACKS).work(str(path))
    return work.design, work.ledger, fault_rows(work.ledger, work.design.structure, work.design.tests)


@pytest.mark.parametrize("path", [*sorted(STYLES.glob("*.yaml")), SOUND], ids=lambda path: path.stem)
def test_every_row_has_a_word_and_what_stands_behind_it(path: Path) -> None:
    _, _, rows = listed(path)
    assert rows
    for row in rows:
        assert row.opening in WORDS
        assert row.note, row.fault
        if row.opening == "shown":
            assert row.computed and row.clears and row.time is not None and row.current_rms is not None
            assert row.i2t is not None and row.i2t.high > 0.0
        if not row.computed:
            assert row.opening == "not shown" and row.note.startswith("for the bench"), row.fault
    for fault in {row.fault for row in rows}:
        ends = [row.case.mains for row in rows if row.fault == fault]
        if fault == NAME:  # between lines there is one voltage
            assert len(ends) == 1
        else:
            assert len(ends) == 2 and ends[0] is not None and ends[1] is not None and ends[0] <= ends[1]


def test_the_sound_design() -> None:
    _, _, rows = listed(SOUND)
    found = {row.fault: row for row in rows if row.case.mains == 264.0}
    for fault in ("BR1 one diode shorted", "C1 shorted", "C2 shorted", "Q1 shorted"):
        assert found[fault].opening == "shown" and found[fault].clears == "RF1", fault
    assert found["L1 shorted"].opening == "nothing to open"
    zone = found["partial short behind RF1"]
    assert zone.opening == "not shown" and "with the bulk capacitor still there" in zone.note
    assert found["C1 open"].computed is False
    assert found["Q1 shorted"].bench == "not done at 264 V"


def test_the_converter_is_on_the_list_of_the_command() -> None:
    work = Workshop(PACKS).work(str(SOUND))
    assumed = {name: one for (_, name), one in work.packs.assumptions.items()}
    rows = design_faults(work.design.structure, work.ledger, assumed, work.design.tests)
    names = {row.fault for row in rows}
    assert {"Q1 shorted", "D7 shorted", "C6 open", "R9 shorted", "output main shorted"} <= names
    clamp = next(row for row in rows if row.fault == "D5 open" and row.case.mains == 264.0)
    assert dict(clamp.beside)["voltage_peak"].far > 700.0 and "greatest voltage" in note_of(clamp)
    shorted = next(row for row in rows if row.fault == "Q1 shorted" and row.case.mains == 264.0)
    # twice 21.4 uF as measured, 2 % of the meter, at 264 V: half C Vp^2 is C V^2
    assert f"{2 * 21.4e-6 * 1.02 * 264.0**2:.3g} J" in shorted.note and "R9 takes" in shorted.note


def test_what_is_over_its_surge_limit_meanwhile_is_told() -> None:
    _, _, rows = listed(SOUND)
    shorted = next(row for row in rows if row.fault == "C1 shorted")
    assert "BR1 is over its surge limit" in shorted.note


def test_the_outcome_of_a_test_stands_beside_the_prediction() -> None:
    text = (STYLES / "fuse.derate.yaml").read_text()
    text += (
        "tests:\n"
        "  - {test: fault, fault: C1 shorted, mains: 253 V, result: opened, note: 'F1 in 12 ms'}\n"
        "  - {test: fault, fault: BR1 one diode shorted, result: did not open}\n"
        "  - {test: fault, fault: Q7 shorted, result: opened}\n"
    )
    design = read_design(text, "with-tests.derate.yaml")
    _, ledger, _ = listed(STYLES / "fuse.derate.yaml")
    rows = fault_rows(ledger, design.structure, design.tests)
    assert {"C1 shorted", "BR1 one diode shorted"} <= {row.fault for row in rows}
    assert all(row.bench.startswith("opened at 253 V") for row in rows if row.fault == "C1 shorted")
    assert all(row.bench == "did not open" for row in rows if row.fault == "BR1 one diode shorted")
    # a favourable outcome changes no word of the prediction, an adverse one overrules it
    assert all(row.opening != "shown" for row in rows if row.fault == "BR1 one diode shorted")
    assert [one.fault for one in outcomes_without_row(rows, design.tests)] == ["Q7 shorted"]
    told = "\n".join(fault_lines("x.yaml", rows, outcomes_without_row(rows, design.tests)))
    assert "on the bench: did not open" in told and "names no fault of the list: Q7 shorted" in told


def test_json_is_as_the_format_says() -> None:
    design, _, rows = listed(STYLES / "ntc-with-fuse.derate.yaml")
    data = json.loads(faults_json(design.path, rows, Gate()))
    jsonschema.Draft202012Validator(FAULTS).validate(data)
    assert list(data) == ["derate", "caution", "design", "gate", "faults"] and data["derate"] == 1
    for one in data["faults"]:
        assert list(one) == ["fault", "subject", "case", "current_rms", "current_peak", "i2t", "clears", "opening",
                             "time", "note"]  # fmt: skip
        assert one["opening"] in WORDS
        for name in ("current_rms", "current_peak", "i2t", "time"):
            assert one[name] is None or list(one[name]) == ["low", "near", "far", "high"]
    varistor = next(one for one in data["faults"] if one["fault"] == "RV1 shorted")
    assert varistor["clears"] == "F1" and varistor["i2t"]["high"] == 18.0  # A2s, SI units


def test_no_word_promises_anything() -> None:
    for path in (*STYLES.glob("*.yaml"), SOUND):
        design, _, rows = listed(path)
        told = "\n".join([*fault_lines(design.path, rows, ()), *fault_screen(rows, (), 80)]).lower()
        for word in ("no fire", "no flame", "safe", "compliant", "approved", "protected"):
            assert word not in told, (path.stem, word)
        assert "for the bench" in told and "mains can kill" in told


def test_screen_begins_with_what_is_not_shown_and_keeps_its_width() -> None:
    _, _, rows = listed(STYLES / "nothing.derate.yaml")
    lines = list(fault_screen(rows, (), 72))
    assert lines[0] == "Not shown to open"
    assert max(map(len, lines)) <= 72


def test_a_design_without_a_mains_path_lists_nothing() -> None:
    design = read_design("derate: 1\nsupply: {name: x}\nparts:\n  R1: film resistor 1 ohm\n", "x.derate.yaml")
    assert fault_rows(Ledger(), design.structure, ()) == ()


def test_note_names_what_is_missing_in_words() -> None:
    text = (STYLES / "fusible-resistor.derate.yaml").read_text().replace("opens_within: {32 W: 60 s, 50 W: 30 s}, ", "")
    path = STYLES / "fusible-resistor.derate.yaml"
    work = Workshop(PACKS).work(str(path))
    from derate.study.work import worked

    design = read_design(text, str(path))
    rows = fault_rows(worked(design, work.packs), design.structure, ())
    shorted = next(row for row in rows if row.fault == "C1 shorted")
    assert shorted.opening == "not shown" and "none is ever assumed" in shorted.note
    assert "time to open by power (RF1)" in note_of(shorted)


def test_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    packs = [word for name in PACKS for word in ("--pack", name)]
    assert main(["faults", str(SOUND), *packs]) == 0
    out = capsys.readouterr().out
    assert "Q1 shorted" in out and FAULTS_CAUTION.split(".")[0] in out
    assert main(["faults", str(SOUND), *packs, "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out)["faults"]
    assert main(["faults", "nowhere.yaml"]) == 2
    assert load_design(str(SOUND)).name
