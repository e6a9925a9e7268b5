"""A ledger that remembers: what counts as read, which steps run again, and what is put back."""

from __future__ import annotations

import pytest

from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import EVERY, Ledger
from derate.ledger.recorded import RecordingLedger, Tape, alike
from derate.terms.values import Value

C1, C2 = Subject("part", ("C1",)), Subject("part", ("C2",))
FULL = Case("running", 90.0, load="full")


class _Plan:
    """A plan of one axis: the mains voltage of the only case."""

    def __init__(self, mains: float) -> None:
        self.mains = mains

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Plan) and other.mains == self.mains

    def cases(self, quantities: object, groups: object) -> tuple[Case, ...]:
        return (Case("running", self.mains, load="full"),)

    def project(self, quantity: str, case: Case) -> Case:
        return case


def _facts(**given: float) -> list:
    source = Ledger()
    rows = {"voltage": (C1, "rated.voltage"), "current": (C2, "rated.current"), "power": (SUPPLY, "plate.power")}
    return [source.write(*rows[name], Value.exact(number)) for name, number in given.items()]


def _run(facts: list, tape: Tape | None = None, mains: float = 90.0) -> tuple[RecordingLedger, list[str]]:
    """Three steps: one of C1's voltage, one of what that gives, one of C2 and the plan."""
    ledger, ran = RecordingLedger(None, tape), []
    ledger.take(facts)
    plan = ledger.watch(_Plan(mains))

    def half() -> None:
        ran.append("half")
        row = ledger.find(C1, "rated.voltage")
        value = row.value.near / 2 if row is not None else None  # type: ignore[union-attr]
        ledger.write(C1, "voltage", None if value is None else Value.exact(value), inputs=(row.number,) if row else ())

    def doubled() -> None:
        ran.append("doubled")
        row = ledger.find(C1, "voltage")
        assert row is not None
        if isinstance(row.value, Value):
            ledger.write(C1, "voltage_peak", Value.exact(min(row.value.near, 100.0) * 2), inputs=(row.number,))

    def other() -> None:
        ran.append("other")
        for case in plan.cases(("current_rms",), ("running",)):
            row = ledger.find(C2, "rated.current")
            ledger.write(C2, "current_rms", row.value if row is not None else None, case=case)

    ledger.step("half", half)
    ledger.step("doubled", doubled)
    ledger.step("other", other)
    return ledger, ran


def test_a_step_runs_again_only_when_what_it_read_has_changed() -> None:
    facts = _facts(voltage=400.0, current=2.0)
    first, ran = _run(facts)
    assert ran == ["half", "doubled", "other"]
    tape = first.tape()
    assert _run(facts, tape)[1] == []
    _, ran = _run(_facts(voltage=400.0, current=3.0), tape)
    assert ran == ["other"]
    again, ran = _run(_facts(voltage=100.0, current=2.0), tape)
    assert ran == ["half", "doubled"]
    found = again.find(C1, "voltage_peak")
    assert found is not None and found.value == Value.exact(100.0)


def test_a_step_stops_a_change_that_it_does_not_pass_on() -> None:
    """Above 200 V the second step gives the same whatever the first does: nothing after it has to run."""
    facts = _facts(voltage=400.0, current=2.0)
    tape = _run(facts)[0].tape()
    again, ran = _run(_facts(voltage=600.0, current=2.0), tape)
    assert ran == ["half", "doubled"]
    peak = again.find(C1, "voltage_peak")
    assert peak is not None
    assert again[peak.inputs[0]].value == Value.exact(300.0), "an input leads to the row of this run"


def test_a_row_that_was_looked_for_in_vain_counts_as_read() -> None:
    tape = _run(_facts(current=2.0))[0].tape()
    again, ran = _run(_facts(current=2.0, voltage=400.0), tape)
    assert ran == ["half", "doubled"]
    peak = again.find(C1, "voltage_peak")
    assert peak is not None and peak.value == Value.exact(200.0)


def test_a_fact_that_went_is_a_change() -> None:
    tape = _run(_facts(voltage=400.0, current=2.0))[0].tape()
    again, ran = _run(_facts(voltage=400.0), tape)
    assert ran == ["other"]
    row = again.find(C2, "current_rms", FULL)
    assert row is not None and row.value is None


def test_an_answer_of_the_plan_counts_as_read() -> None:
    facts = _facts(voltage=400.0, current=2.0)
    tape = _run(facts)[0].tape()
    again, ran = _run(facts, tape, mains=100.0)
    assert ran == ["other"]
    assert again.find(C2, "current_rms", FULL) is None


def test_numbers_are_names_and_lead_to_the_row_of_this_run() -> None:
    facts = _facts(voltage=400.0, current=2.0)
    first, _ = _run(facts)
    again, _ = _run(_facts(voltage=500.0, current=2.0), first.tape())
    old, new = first.find(C1, "voltage"), again.find(C1, "voltage")
    assert old is not None and new is not None and old.number != new.number
    assert again[new.number] is new
    assert again[old.number] is new, "an input of a row that was put back may still bear the old number"
    put_back = again.find(C2, "current_rms", FULL)
    assert put_back is first.find(C2, "current_rms", FULL)


def test_a_step_that_is_not_taken_takes_its_rows_with_it() -> None:
    def steps(ledger: RecordingLedger, with_first: bool) -> list[str]:
        ran: list[str] = []
        ledger.take([])
        ledger.watch(_Plan(90.0))
        if with_first:
            ledger.step("first", lambda: ledger.write(C1, "voltage", Value.exact(1.0)))
        ledger.step("second", lambda: (ran.append("second"), ledger.find(C1, "voltage")))
        return ran

    first = RecordingLedger()
    steps(first, True)
    assert steps(RecordingLedger(None, first.tape()), False) == ["second"]
    assert steps(RecordingLedger(None, first.tape()), True) == []


def test_a_row_written_outside_every_step_is_refused() -> None:
    ledger = RecordingLedger()
    with pytest.raises(LookupError, match="written by no step"):
        ledger.write(C1, "voltage", Value.exact(1.0))


def test_a_step_that_reads_what_a_later_step_gives_is_refused() -> None:
    ledger = _begun()
    ledger.step("reader", lambda: ledger.find(C1, "voltage", FULL))
    with pytest.raises(LookupError, match="step reader reads C1: voltage, which the later step writer gives"):
        ledger.step("writer", lambda: ledger.write(C1, "voltage", Value.exact(1.0), case=FULL))


def test_a_hole_that_only_says_a_fact_is_not_stated_tells_an_earlier_reader_nothing_new() -> None:
    ledger = _begun()
    ledger.step("reader", lambda: ledger.find(C1, "rated.voltage"))
    ledger.step("asker", lambda: ledger.hole(C1, "rated.voltage", (OpenFact(C1, "rated.voltage"),)))
    other = _begun()
    other.step("reader", lambda: other.find(C1, "rated.voltage"))
    with pytest.raises(LookupError, match="which the later step asker gives"):  # why it is not known is news
        other.step("asker", lambda: other.hole(C1, "rated.voltage", (OpenFact(C2, "rated.current"),)))


def test_who_looked_and_then_wrote_the_row_itself_is_no_early_reader() -> None:
    ledger = _begun()

    def hole() -> None:
        if ledger.find(C1, "voltage", FULL) is None:
            ledger.hole(C1, "voltage", (OpenFact(C1, "rated.voltage"),), case=FULL)

    ledger.step("holes", hole)
    ledger.step("readings", lambda: ledger.write(C1, "voltage", Value.exact(1.0), case=FULL), refines=EVERY)


def test_what_a_refining_step_adds_is_above_the_steps_that_looked_for_it() -> None:
    ledger = _begun()
    ledger.step("reader", lambda: ledger.find(C1, "voltage", FULL))
    ledger.step("readings", lambda: ledger.write(C1, "voltage", Value.exact(1.0), case=FULL), refines=("voltage",))


def test_a_row_has_one_writer_unless_a_step_says_that_it_refines_it() -> None:
    def write(number: float) -> Entry:
        return ledger.write(C1, "voltage", Value.exact(number), case=FULL)

    ledger = _begun()
    ledger.step("writer", lambda: write(1.0))
    ledger.step("asks for the same", lambda: write(1.0))
    ledger.step("refiner", lambda: write(2.0), refines=("voltage",))
    ledger.step("weighs all", lambda: write(3.0), refines=EVERY)
    with pytest.raises(LookupError, match="step second writer replaces C1: voltage of step weighs all"):
        ledger.step("second writer", lambda: write(4.0), refines=("voltage_peak",))


def _begun() -> RecordingLedger:
    ledger = RecordingLedger()
    ledger.take([])
    ledger.watch(_Plan(90.0))
    return ledger


def test_rows_are_alike_by_what_they_hold() -> None:
    ledger = Ledger()
    one = ledger.write(C1, "voltage", Value.exact(1.0), inputs=(7,))
    assert alike(one, ledger.write(C1, "voltage", Value.exact(1.0), inputs=(9,)))
    assert not alike(one, ledger.write(C1, "voltage", Value.exact(1.0), note="read"))
    assert not alike((one, 1), (one, 2))
    assert not alike(one, None)


@pytest.mark.parametrize(
    ("asks", "changes", "again"),
    [
        (FULL, FULL, True),  # the very row
        (FULL, "other", False),  # a row of another case of the same quantity
        ("standing", "standing", True),  # a case for which the row without one speaks
        ("projected", FULL, True),  # a case for which the row of another speaks
        ("rows", "other", True),  # every row of the quantity
        ("number", "other", False),  # a row by its number is that row alone
    ],
)
def test_what_is_read_at_a_case_is_that_row(asks: object, changes: object, again: bool) -> None:
    """A step runs again where the row that spoke for what it asked has changed, and for no other case of it."""
    other, projected = Case("running", 264.0, load="full"), Case("running", 90.0, load="none")

    class Projecting(_Plan):
        def project(self, quantity: str, case: Case) -> Case:
            return FULL

    def run(first: float, second: float, standing: float, tape: Tape | None = None) -> tuple[RecordingLedger, int]:
        ledger, ran = RecordingLedger(None, tape), []
        ledger.take(_facts(voltage=first, current=second, power=standing))
        ledger.watch(Projecting(90.0))

        def given() -> None:
            for row, case in ((C1, FULL), (C2, other)):
                stated = ledger.find(row, "rated.voltage" if row is C1 else "rated.current")
                assert stated is not None
                ledger.write(C1, "voltage", stated.value, case=case)

        def asked() -> None:
            ran.append(1)
            if asks == "rows":
                ledger.rows(C1, "voltage")
            elif asks == "number":
                _ = ledger[full.number]
            elif asks == "standing":
                ledger.find(SUPPLY, "plate.power", FULL)
            else:
                ledger.find(C1, "voltage", projected if asks == "projected" else FULL)

        ledger.step("given", given)
        full = next(one for one in ledger.entries if one.case == FULL)
        ledger.step("asked", asked)
        return ledger, len(ran)

    tape = run(400.0, 2.0, 5.0)[0].tape()
    assert run(400.0, 2.0, 5.0, tape)[1] == 0
    moved = {FULL: (300.0, 2.0, 5.0), "other": (400.0, 3.0, 5.0), "standing": (400.0, 2.0, 6.0)}[changes]  # type: ignore[index]
    assert run(*moved, tape)[1] == int(again)
