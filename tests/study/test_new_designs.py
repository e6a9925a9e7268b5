"""A new design file: it loads, it lints, it states nothing nobody has seen, and nothing is overwritten."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from derate.cli.main import main
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.judge.review import Review
from derate.packs.load import load_packs, shipped
from derate.study.hearing import unused
from derate.study.new import (
    BASES,
    CLASSES,
    TOPOLOGIES,
    Answers,
    checked,
    new_design,
    read_class,
    read_frequency,
    read_mains,
    read_output,
    read_topology,
)
from derate.study.work import Work, review_of, worked
from derate.terms.values import ReadingError

WHOLE = Answers(
    "Lamp supply", "opened sample", "flyback", "II", "100..240 V", "50..60 Hz", (("main", "5 V", "2 A"),), 2, False
)
TWO = Answers("Two rails", outputs=(("main", "12 V", "1 A"), ("aux", "5 V", "0.5 A")))
NOTHING = Answers("Nothing known")
SKELETONS = [NOTHING, WHOLE, TWO]
SKELETONS += [Answers(f"A {word}", topology=word, bulk_capacitors=2) for word in TOPOLOGIES]
SKELETONS += [Answers(f"Class {word}", topology="flyback", protection_class=word) for word in CLASSES]
SKELETONS += [Answers(f"From {word}", basis=word, topology="flyback", mains="230 V") for word in BASES]
# What follows from the one answer that no part goes from primary to secondary.
LOOKED_FOR_BRIDGES = {"bridging-parts-looked-for", "touch-current", "touch-current-peak"}
PACKS = load_packs([str(path) for path in sorted(shipped("rules").glob("*.yaml"))])


def taken_in(text: str) -> str:
    """The file with every line that stands as a comment taken in: a bare # goes, and the parts that are there now."""
    lines = (line for line in text.splitlines(keepends=True) if not line.startswith("parts: {}"))
    return "".join(re.sub(r"^#(?! \S)", "", line) for line in lines)


def linted(text: str) -> Review:
    """Its review with every shipped pack that has to do with it."""
    design = read_design(text, "new.derate.yaml")
    return review_of(Work(design, Settings(), PACKS, worked(design, PACKS)), date(2026, 11, 25))


@pytest.mark.parametrize("answers", SKELETONS, ids=lambda answers: answers.name)
def test_it_states_nothing_that_nobody_has_seen(answers: Answers) -> None:
    design = read_design(new_design(checked(answers)), "new.derate.yaml")
    assert design.name == answers.name
    file = design.file
    assert not (file.parts or file.transformers or file.barriers or design.readings or design.tests)
    assert design.structure.mains is None and not design.structure.outputs
    assert not design.known_by[design.path]


@pytest.mark.parametrize("answers", SKELETONS, ids=lambda answers: answers.name)
def test_no_grave_rule_passes_before_anything_is_opened(answers: Answers) -> None:
    review = linted(new_design(checked(answers)))
    grave = [one for one in review.findings if one.severity != "minor"]
    passed = [one.rule for one in grave if one.verdict in ("pass", "marginal")]
    held = {rule.removeprefix("household-").removeprefix("lamp-") for rule in passed}
    assert held <= (set() if answers.bridging else LOOKED_FOR_BRIDGES)
    assert review.blocks


@pytest.mark.parametrize("answers", [NOTHING, WHOLE, TWO])
def test_its_comments_are_a_whole_design_once_they_are_taken_in(answers: Answers) -> None:
    design = read_design(taken_in(new_design(checked(answers))), "new.derate.yaml")
    assert design.structure.mains is not None and design.file.parts and design.file.barriers and design.readings
    assert set(design.structure.outputs) == {name for name, _, _ in answers.outputs}
    assert not design.notes  # every part stands on a path


def test_a_rating_typed_in_later_says_itself_how_it_is_known() -> None:
    text = taken_in(new_design(WHOLE)).replace("rated: {power: unknown}", "rated: {power: 0.5 W}")
    rated = read_design(text, "new.derate.yaml")
    power = rated.file.parts["RS1"].rated.power
    assert power is not None and rated.evidence(power, "rated") == "stated"


@pytest.mark.parametrize("answers", [Answers("Nothing known"), WHOLE, TWO])
def test_it_is_in_bench_order_and_full_of_unknowns(answers: Answers) -> None:
    text = new_design(answers)
    steps = [text.index(f"# ---- {number}.") for number in range(1, 6)]
    assert steps == sorted(steps)
    blocks = [text.index(f"\n{name}:") for name in ("supply", "parts", "#barriers", "#readings", "#transformers")]
    assert blocks == sorted(blocks)
    closed = text[steps[0] : steps[1]]
    for line in closed.split("\n"):  # what needs power is not asked of a supply that is not plugged in
        assert "step 4: " in line or not any(word in line for word in ("full load", "thermocouple", "scope"))
    for begin, end in ((1, 2), (2, 3), (4, 5)):
        own = text[steps[begin] : steps[end] if end < 5 else None]
        assert "unplugged" in own.split("\n")[0] and "discharged" in own.split("\n")[0]
    live = text[steps[3] : steps[4]]
    for words in (
        "no critical fail and every distance is known",
        "never\n# alone",
        "cancels the isolating transformer",
        "residual-current breaker",
        "output may be live",
        "reader isolated",
        "trained people only",
    ):
        assert words in live, words
    assert text.count("unknown") >= 60
    assert "\nparts: {}" in text and "\n#parts:" in text
    assert "capacitor stays charged" in text and "never goes back" in text and "live or alone" in text


def test_flags_make_a_file_that_lints(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "lamp.derate.yaml"
    command = [
        "new", str(path), "--topology", "flyback", "--class", "II", "--mains", "100..240 V", "--frequency", "50..60 Hz",
        "--output", "main=5 V 2 A", "--bulk-capacitors", "2", "--no-bridging",
    ]  # fmt: skip
    assert main(command) == 0
    assert main(["lint", str(path)]) == 1  # unknown is never a pass
    out = capsys.readouterr().out
    assert "not assessed" in out and "derate missing" in out
    assert path.stat().st_mode & 0o777 == 0o666 & ~_umask()
    assert not list(tmp_path.glob(".derate-*"))


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def test_nothing_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.derate.yaml"
    path.write_text("mine")
    assert main(["new", str(path)]) == 2
    assert path.read_text() == "mine" and "not overwritten" in capsys.readouterr().err
    link = tmp_path / "link.derate.yaml"
    link.symlink_to(tmp_path / "gone.yaml")
    assert main(["new", str(link)]) == 2 and not (tmp_path / "gone.yaml").exists()
    assert main(["new", str(tmp_path / "no-folder" / "a.yaml")]) == 2
    assert "nothing was written" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("flags", "says"),
    [
        (["--topology", "flybck"], "write flyback"),
        (["--class", "IV"], "no class"),
        (["--mains", "230"], "mains:"),
        (["--output", "12 V"], "is no output"),
        (["--output", "main=12 V 1.5 V"], "current of main"),
        (["--name", "a: b"], "no name of a supply"),
        (["--output", "a=1 V 1 A", "--output", "a=2 V 1 A"], "names of their own"),
    ],
)
def test_what_cannot_be_read_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], flags: list[str], says: str
) -> None:
    path = tmp_path / "new.derate.yaml"
    assert main(["new", str(path), *flags]) == 2
    assert says in capsys.readouterr().err and not path.exists()


def asked(monkeypatch: pytest.MonkeyPatch, path: Path, *answers: str) -> list[str]:
    """Run the interview with these answers; the questions in their order."""
    given, questions = iter(answers), []

    def answer(question: str) -> str:
        questions.append(question)
        found = next(given, None)
        if found is None:
            raise EOFError
        return found

    monkeypatch.setattr("derate.cli.new._terminal", lambda: True)
    monkeypatch.setattr("builtins.input", answer)
    assert main(["new", str(path)]) == 0
    return questions


def test_questions_at_a_terminal_go_from_the_outside_inwards(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "lamp.derate.yaml"
    questions = asked(
        monkeypatch, path, "Desk lamp", "100-240V~", "50/60Hz", "0.3A", "5V 1A", "aux=12V⎓500mA", "", "class 2", "",
        "Flyback",
    )
    words = ("Name", "Mains", "frequency", "current", "Output", "further", "further", "Class", "Connected", "Topology")
    assert all(word in question for word, question in zip(words, questions, strict=True))
    text = path.read_text()
    assert "mains: 100..240 V" in text and "frequency: 50..60 Hz" in text
    assert "{main: {voltage: 5 V, current: 1 A}, aux: {voltage: 12 V, current: 500 mA}}" in text
    assert re.search(r"protection_class: II +#", text) and re.search(r"topology: flyback +#", text)
    assert re.search(r"connection: unknown +#", text)  # Enter alone says nothing
    assert read_design(text, str(path)).name == "Desk lamp"


def test_what_cannot_be_read_is_asked_again_and_nothing_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "lamp.derate.yaml"
    given = ("a: b", "Lamp", "230", "230 V", "fifty", "50 Hz", "0.2 V", "0.2 A", "12 V", "12V 1A")
    given += ("main=5V 1A", "", "4", "1")
    questions = asked(monkeypatch, path, *given)
    for word in ("Name", "Mains", "frequency", "current", "Output", "further", "Class"):
        assert sum(word in question for question in questions) == 2, word
    told = capsys.readouterr().out
    for instead in ("use letters", "for example 230 V", "write 12 V 1.5 A", "has one already", "I or II or III"):
        assert instead in told, instead
    text = path.read_text()
    assert "mains: 230 V" in text and "mains_current: 0.2 A" in text and "{main: {voltage: 12 V, current: 1 A}}" in text
    assert re.search(r"protection_class: I +#", text)
    assert re.search(r"topology: unknown +#", text)  # the answers ended: none is assumed


@pytest.mark.parametrize(
    ("read", "given", "written"),
    [
        (read_mains, "100-240V~", "100..240 V"), (read_mains, "AC 100-240V", "100..240 V"),
        (read_mains, "230Vac", "230 V"), (read_mains, "220 to 240 V", "220..240 V"),
        (read_mains, "90..264 V", "90..264 V"),
        (read_frequency, "50/60Hz", "50..60 Hz"), (read_frequency, "50-60 Hz", "50..60 Hz"),
        (read_frequency, "60 hz", "60 Hz"), (read_class, "class 2", "II"), (read_class, "ii", "II"),
        (read_class, "1", "I"),
        (read_topology, "Flyback", "flyback"), (read_output, "5V 1A", ("main", "5 V", "1 A")),
        (read_output, "5V⎓2.4A", ("main", "5 V", "2.4 A")), (read_output, "aux=12 V, 500mA", ("aux", "12 V", "500 mA")),
    ],
)
def test_what_people_write_is_read(read: Callable[[str], object], given: str, written: object) -> None:
    assert read(given) == written


@pytest.mark.parametrize("given", ["100-240", "mains", "5 A", "-230 V~", "100-240V 50Hz"])
def test_no_mains_is_guessed(given: str) -> None:
    with pytest.raises(ReadingError):
        read_mains(given)


@pytest.mark.parametrize("given", ["9V~ 1A", "9 V AC 1 A", "main=9Vac 500mA"])
def test_an_alternating_output_is_not_taken_for_a_direct_one(given: str) -> None:
    with pytest.raises(ReadingError) as refused:
        read_output(given)
    assert "alternating voltage" in refused.value.problems[0].what


@pytest.mark.parametrize("given", ["24V DC", "12 V⎓", "DC 24V", "24Vdc"])
def test_direct_voltage_is_not_taken_for_the_mains(given: str) -> None:
    with pytest.raises(ReadingError) as refused:
        read_mains(given)
    assert "direct voltage" in refused.value.problems[0].what


def test_a_connection_as_people_say_it_is_answered() -> None:
    with pytest.raises(ReadingError) as refused:
        checked(Answers("x", connection="wall wart"))
    assert refused.value.problems[0].instead == "write plug-in"


def test_every_wrong_answer_is_told_at_once() -> None:
    with pytest.raises(ReadingError) as caught:
        checked(Answers("x", topology="fly", mains="1,5 V", frequency="50"))
    assert len(caught.value.problems) >= 3


def test_the_current_of_the_plate_is_written_as_it_was_given() -> None:
    for given, written in (("0.3A", "0.3 A"), ("300mA max", "300 mA"), ("none", "unmarked"), ("", "unknown")):
        plate = read_design(new_design(checked(Answers("x", mains_current=given))), "x.yaml").file.supply.plate
        assert plate.mains_current is not None and plate.mains_current.text == written, given
    with pytest.raises(ReadingError):
        checked(Answers("x", mains_current="0.3 V"))


def test_nothing_that_new_writes_is_told_as_used_by_nothing() -> None:
    for answers in SKELETONS:
        design = read_design(new_design(checked(answers)), "new.derate.yaml")
        work = Work(design, Settings(), PACKS, worked(design, PACKS))
        told = [one for one in unused(work, review_of(work, date(2026, 11, 25))) if one.is_fact]
        assert not told, (answers, told)
