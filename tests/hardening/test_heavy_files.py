"""Work is bounded, not only bytes: what fits into the size limit is judged, or refused in words, after bounded work.

Counted are calls, which are the same on every machine. A whole cold lint is some two million; the slowest file found,
at every limit at once, takes 13.3 million and is held to sixteen, which is three seconds of an ordinary core.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from brute_force import BRUTE_FORCE
from counts import calls
from hardening_bench import SMALL
from heavy_files import DESIGNS, PACKS

from derate.cli.main import main
from derate.design.limits import LIMITS, MOST_ON_A_PATH, MOST_PARTS
from derate.insulation import distances
from derate.ledger.entry import Entry, Subject
from derate.ledger.ledger import Ledger, wide_facts
from derate.stress.bench import load_tests
from derate.study.work import Workshop, worked
from derate.terms.quantities import named
from derate.terms.values import Place, Problem, Problems, ReadingError, TooManyProblems, Value
from derate.text.nodes import GREATEST_LENGTH, GREATEST_SIZE, LONGEST_TEXT, compose

MOST_CALLS = 16_000_000
MOST_CALLS_ELSE = 5_000_000  # of one that is refused, or holds much of one thing
MOST_CALLS_OF_A_STUDY = 24_000_000  # 20.6 million are found, which is some four seconds
MOST_MEMORY = 500_000_000
HEAVY = {"everything": MOST_PARTS - 2, "outputs": 24, "parallel_capacitors": MOST_ON_A_PATH - 4}


def fitting(make: object, many: int) -> str:
    """A file of a kind, as large as the size limit lets it be."""
    text: str = make(many)  # type: ignore[operator]
    if len(text) > GREATEST_SIZE:
        text = make(int(many * 0.99 * GREATEST_SIZE / len(text)))  # type: ignore[operator]
    assert len(text) <= GREATEST_SIZE
    return text


@pytest.mark.parametrize("kind", [*DESIGNS, *PACKS])
def test_the_largest_file_of_a_kind(kind: str, repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Judged or refused in our words; most of them before anything is worked out."""
    Path("rules").mkdir()
    if kind in DESIGNS:
        Path("heavy.derate.yaml").write_text(fitting(*DESIGNS[kind]))
        argv = ["lint", "heavy.derate.yaml"]
    else:
        Path("rules/heavy.yaml").write_text(fitting(*PACKS[kind]))
        argv = ["lint", "lamp.derate.yaml", "--pack", "rules/heavy.yaml"]
    found: list[int] = []
    assert calls(lambda: found.append(main(argv))) < MOST_CALLS_ELSE
    told = capsys.readouterr().err
    assert found[0] in (1, 2) and "could not be worked through" not in told and "should not happen" not in told
    assert found[0] == 1 or all(": error: " in line for line in told.strip().split("\n"))
    assert len(told) < 100_000, "nobody reads a megabyte of errors"


def at_the_limit(kind: str) -> str:
    """The largest file of a kind that is still judged."""
    return DESIGNS[kind][0](HEAVY[kind])


@pytest.mark.parametrize("kind", HEAVY)
def test_the_largest_file_that_is_judged(kind: str, repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("heavy.derate.yaml").write_text(at_the_limit(kind))
    found: list[int] = []
    taken = calls(lambda: found.append(main(["lint", "heavy.derate.yaml"])))
    assert 1_000_000 < taken < MOST_CALLS, taken
    assert found == [1] and not capsys.readouterr().err


# Each kind and each study has its turn in an ordinary run; each with the other by brute force.
STUDIES = [("missing", "everything"), ("headroom", "outputs"), ("missing", "outputs"), ("headroom", "everything")]


@pytest.mark.parametrize(("command", "kind"), STUDIES if BRUTE_FORCE else STUDIES[:2])
def test_a_study_of_the_largest_file_ends_where_it_may_work_no_more(
    command: str, kind: str, repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of the very largest nothing is tried: working it through once is more than half of what a study may take."""
    Path("heavy.derate.yaml").write_text(at_the_limit(kind))
    assert 1_000_000 < calls(lambda: main([command, "heavy.derate.yaml"])) < MOST_CALLS_OF_A_STUDY
    told = capsys.readouterr()
    stopped = "the study stopped at the most work it may take" in told.out
    assert not told.err and stopped == (kind == "everything" or command == "headroom")


def test_memory_of_the_largest_files(repository: Path) -> None:
    """The most that any of these processes took, of all that this one has waited for."""
    for kind in ("long_text", "comments", "one_entry_many_names", "parallel_capacitors"):
        text = fitting(*DESIGNS[kind]) if kind not in HEAVY else at_the_limit(kind)
        Path("heavy.derate.yaml").write_text(text)
        code = (
            "import sys\nfrom derate.cli.main import main\n"
            "status = main(['lint', 'heavy.derate.yaml'])\n"
            # of this process alone: what getrusage tells begins with the size of the one that started it
            "most = next(line for line in open('/proc/self/status') if line.startswith('VmHWM'))\n"
            "print(int(most.split()[1]) * 1024, file=sys.stderr)\nsys.exit(status)"
        )
        # no limit of time: that it ends the tests above hold, by the calls the same files take
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
        assert done.returncode in (1, 2)
        assert 10_000_000 < int(done.stderr.split("\n")[-2]) < MOST_MEMORY, kind


@pytest.mark.parametrize("limit", LIMITS, ids=lambda one: "-".join(one.path))
def test_one_more_than_the_limit_is_refused_with_its_place(
    limit: object, repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """At the limit nothing is said of it; one more, and the file is refused before anything else is looked at."""
    from derate.design.limits import Limit, bounded

    assert isinstance(limit, Limit)
    for many, refused in ((limit.most, False), (limit.most + 1, True)):
        value = "{" + ", ".join(f"a{number}: x" for number in range(many)) + "}"
        for key in reversed(limit.path):
            value = f"{{{key if key != '*' else 'T1'}: {value}}}"
        node = compose(value, "x.yaml")
        if not refused:
            bounded(node)
            continue
        with pytest.raises(ReadingError, match=f"more than {limit.most} {limit.what} in one design"):
            bounded(node)


def test_parts_of_one_entry_and_of_a_revision_count(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    names = ", ".join(f"R{number}" for number in range(200))
    other = ", ".join(f"Q{number}" for number in range(200))
    parts = f"parts:\n  ? {names}\n  : film resistor 1 kohm 5% 1 W\n"
    Path("first.derate.yaml").write_text(SMALL.replace("parts:\n", parts))
    assert main(["lint", "first.derate.yaml"]) == 1
    capsys.readouterr()
    Path("next.derate.yaml").write_text(
        "derate: 1\nrevision_of: first.derate.yaml\nsupply: {name: Next, basis: own design}\n"
        f"parts:\n  ? {other}\n  : film resistor 1 kohm 5% 1 W\n"
    )
    assert main(["lint", "next.derate.yaml"]) == 2
    assert f"more than {MOST_PARTS} parts in one design" in capsys.readouterr().err


def test_rules_times_parts_are_bounded(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("rules").mkdir()
    Path("rules/heavy.yaml").write_text(PACKS["pack_rules"][0](1900))
    Path("heavy.derate.yaml").write_text(DESIGNS["load_side"][0](250))
    assert main(["lint", "lamp.derate.yaml", "--pack", "rules/heavy.yaml"]) == 1
    assert main(["lint", "heavy.derate.yaml", "--pack", "rules/heavy.yaml"]) == 2
    told = capsys.readouterr().err
    assert "1900 rules on 253 parts, windings and barriers are more than are asked in one run" in told


def test_a_longer_block_and_a_longer_text_are_refused() -> None:
    compose("a: [" + ", ".join("x" * GREATEST_LENGTH) + "]", "x.yaml")
    compose(f"a: {'x' * LONGEST_TEXT}", "x.yaml")
    with pytest.raises(ReadingError, match="more than 2000 entries"):
        compose("a: [" + ", ".join("x" * (GREATEST_LENGTH + 1)) + "]", "x.yaml")
    with pytest.raises(ReadingError, match="more than 2000 entries"):
        compose("\n".join(f"a{number}: x" for number in range(GREATEST_LENGTH + 1)), "x.yaml")
    with pytest.raises(ReadingError, match="more than 10000 characters"):
        compose(f"a: {'x' * (LONGEST_TEXT + 1)}", "x.yaml")


def test_two_hundred_errors_are_told_and_then_reading_ends() -> None:
    one = Problem(Place("x.yaml", 1), "wrong")
    gathered = Problems()
    for number in range(Problems.MOST):
        gathered.append(one._replace(place=Place("x.yaml", number + 1)))
    for add in (lambda: gathered.append(one), lambda: gathered.extend([one]), lambda: gathered.__iadd__([one])):
        with pytest.raises(TooManyProblems) as caught:
            add()
        assert len(caught.value.problems) == Problems.MOST + 1
        assert sum(found.what == "more is wrong here than is told" for found in caught.value.problems) == 1
        del gathered[-1]


def test_a_row_that_many_stand_on_is_fetched_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a finding waits for is followed back row by row: sixty rows of sixty inputs each, three deep."""
    ledger = Ledger()

    def rows(name: str, inputs: tuple[int, ...], known_by: str) -> tuple[int, ...]:
        given = {"known_by": known_by, "inputs": inputs}
        value = Value.between(1.0, 2.0)
        return tuple(
            ledger.write(Subject("part", (f"{name}{one}",)), named("voltage"), value, **given).number  # type: ignore[arg-type]
            for one in range(60)
        )

    first = rows("A", (), "stated")
    last = rows("C", rows("B", first, "computed"), "computed")
    fetched = []
    own = Ledger.__getitem__

    def counting(self: Ledger, number: int) -> Entry:
        fetched.append(number)
        return own(self, number)

    entries = [ledger[number] for number in last]
    monkeypatch.setattr(Ledger, "__getitem__", counting)
    found = wide_facts(ledger, entries)
    assert [one.subject for one in found] == [Subject("part", (f"A{number}",)) for number in range(60)]
    assert len(fetched) <= 120


def test_readings_of_many_outputs_are_sorted_once(repository: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each voltage read finds its output once for the sum of the ports, not once for every condition and output."""
    Path("heavy.derate.yaml").write_text(at_the_limit("everything"))
    asked = []
    own = load_tests.subject_of

    def counting(*given: object) -> object:
        asked.append(given)
        return own(*given)  # type: ignore[arg-type]

    work = Workshop().work("heavy.derate.yaml")
    monkeypatch.setattr(load_tests, "subject_of", counting)
    worked(work.design, work.packs)
    assert len(asked) <= 6 * len(work.design.readings)


def test_places_that_ask_alike_read_the_creepage_table_once(
    repository: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Seventy-four places between the same two circuits; 48 readings of the table each without what is kept."""
    Path("heavy.derate.yaml").write_text(at_the_limit("everything"))
    read = []
    own = distances.creepage_basic

    def counting(*given: object) -> object:
        read.append(given[1:])
        return own(*given)  # type: ignore[arg-type]

    work = Workshop().work("heavy.derate.yaml")
    monkeypatch.setattr(distances, "creepage_basic", counting)
    worked(work.design, work.packs)
    assert len(work.design.file.barriers) > 70 and 0 < len(read) < 200
