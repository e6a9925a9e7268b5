"""What is asked of an archive, held to the reviews of the designs one by one; and what if."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from archive_bench import DAY, HOUSE, Watched, folder_of, lamp, opened, ran

from derate.archive import questions as ask
from derate.archive import trail
from derate.archive.setting import Change, Limit, Setting, Untouched, read_setting
from derate.cli.main import main
from derate.judge.review import Review
from derate.study.work import Workshop, review_of
from derate.terms.values import ReadingError
from derate.text.nodes import Mapping, compose

ON = ["--today", DAY.isoformat()]
LAST = ["--last-day", (DAY + timedelta(100)).isoformat(), *ON]
Moves = set[tuple[str, str, str, str | None, str | None]]


def _reviews(home: Path, packs: tuple[str, ...] = ()) -> dict[str, Review]:
    workshop = Workshop(packs)
    return {one.name: review_of(workshop.work(str(one)), DAY) for one in sorted(home.glob("*.derate.yaml"))}


def _moves(before: dict[str, Review], after: dict[str, Review]) -> Moves:
    """What moved between two sets of reviews, by hand."""
    found: Moves = set()
    for name, one in before.items():
        old, new = (
            {(each.rule, each.pack, each.subject): each for each in review.findings} for review in (one, after[name])
        )
        for key in old.keys() | new.keys():
            words = [side[key].verdict if key in side else None for side in (old, new)]
            unshown = {"fail", "not assessed"}
            if words[0] != words[1] and (None not in words or unshown & {*words}):
                found.add((name, key[0], str(key[2]), words[0], words[1]))
    return found


def _asked(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    main(["archive", *words, "--today", DAY.isoformat(), "--format", "json", "--jobs", "1"])
    out, told = capsys.readouterr()
    assert "Traceback" not in told, told
    found: dict[str, Any] = json.loads(out)
    return found


def _told(rows: list[dict[str, Any]]) -> Moves:
    return {(one["design"], one["rule"], one["subject"], one["before"], one["after"]) for one in rows}


def test_a_part_is_found_by_marking_kind_and_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path)
    (home / "lamp-1.derate.yaml").write_text(lamp("Lamp 1", 390, "KBP206"), encoding="utf-8")
    reviews = _reviews(home)
    for said, names, part in (
        ("mb6s", (0, 2), "BR1"),
        ("electrolytic capacitor", (0, 1, 2), "C1"),
        ("F1", (0, 1, 2), "F1"),
    ):
        rows = _asked(capsys, str(home), "--part", said)["part"]
        assert sorted(one["design"] for one in rows) == [f"lamp-{number}.derate.yaml" for number in names]
        for row in rows:
            ratios = [
                one.ratio
                for one in reviews[row["design"]].findings
                if one.subject.names == (part,) and one.ratio is not None
            ]
            assert row["part"] == part and row["ratio"] == max(ratios, default=None)
        near = [one["ratio"] for one in rows if one["ratio"] is not None]
        assert near == sorted(near, reverse=True)


def test_the_worst_of_a_rule_and_the_nearest(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path)
    found = _asked(capsys, str(home), "--worst", "--nearest")
    every = [(name, one) for name, review in _reviews(home).items() for one in review.findings]
    known = [(name, one) for name, one in every if one.ratio is not None and one.verdict != "not assessed"]
    worst = {one["rule"]: one for one in found["worst"]}
    assert worst.keys() == {one.rule for _, one in known} and len(worst) > 5
    for rule, row in worst.items():
        name, one = max(((name, one) for name, one in known if one.rule == rule), key=lambda each: each[1].ratio or 0.0)
        assert row["worst"] == one.ratio
        for verdict in ("fail", "not assessed", "marginal", "pass"):
            counted = {design for design, each in every if each.rule == rule and each.verdict == verdict}
            assert row[verdict.replace(" ", "_")] == len(counted)
    assert worst["bulk-capacitor-voltage"]["design"] == "lamp-0.derate.yaml"  # the one of 380 V
    holding = [
        one.ratio for _, one in known if one.verdict in ("pass", "marginal") and one.severity != "minor" and one.unit
    ]
    assert [one["ratio"] for one in found["nearest"]] == sorted(holding, reverse=True)[:20]


def test_what_moved_between_two_runs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path)
    before = _reviews(home)
    _asked(capsys, str(home))
    (home / "lamp-0.derate.yaml").write_text(lamp("Lamp 0", 500), encoding="utf-8")
    (home / "lamp-1.derate.yaml").write_text("derate: 1\n", encoding="utf-8")
    (home / "lamp-2.derate.yaml").unlink()
    (home / "lamp-3.derate.yaml").write_text(lamp("Lamp 3"), encoding="utf-8")
    rows = _asked(capsys, str(home), "--moved")["moved"]
    (home / "lamp-1.derate.yaml").unlink()
    (home / "lamp-3.derate.yaml").unlink()
    own = _moves({"lamp-0.derate.yaml": before["lamp-0.derate.yaml"]}, _reviews(home))
    assert own and _told(rows) == own | {
        ("lamp-1.derate.yaml", "", "the design", "judged", "unread"),
        ("lamp-2.derate.yaml", "", "the design", "judged", "not there"),
        ("lamp-3.derate.yaml", "", "the design", "not there", "judged"),
    }
    assert rows[0]["after"] == "unread"
    main(["archive", str(home), "--as-stored", "--moved", "2", "2", "--format", "json"])
    assert not json.loads(capsys.readouterr().out)["moved"]


@pytest.mark.parametrize(
    ("sets", "change", "touched"),
    [
        (["site.mains_tolerance=20%"], lambda text: text.replace("site: {", "site: {mains_tolerance: 20%, "), "012"),
        (["parts[C1].rated.voltage=300 V"], None, "012"),
        (["parts[mb6s].rated.reverse_voltage=350 V"], lambda text: text.replace("voltage: 600", "voltage: 350"), "02"),
        (["parts[KBP206].rated.reverse_voltage=350 V"], lambda text: text.replace("voltage: 600", "voltage: 350"), "1"),
        (["parts[C9].rated.voltage=300 V"], lambda text: text, ""),
    ],
)
def test_what_if_a_fact_were_another(
    sets: list[str],
    change: Any,
    touched: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What is told is what moves where the files themselves say so; a design without it is not worked through."""
    home = folder_of(tmp_path)
    (home / "lamp-1.derate.yaml").write_text(lamp("Lamp 1", 390, "KBP206"), encoding="utf-8")
    before = _reviews(home)
    _asked(capsys, str(home))
    worked: list[str] = []
    own = Workshop.packs_for
    monkeypatch.setattr(Workshop, "packs_for", lambda it, path, *rest: (worked.append(path), own(it, path, *rest))[1])
    rows = _asked(capsys, str(home), *[word for one in sets for word in ("--set", one)])["what_if"]
    assert sorted(Path(one).name[5] for one in worked) == [*touched]
    monkeypatch.undo()
    for number in touched:
        path = home / f"lamp-{number}.derate.yaml"
        text = path.read_text(encoding="utf-8")
        if change is None:
            figure = text.split("20% ")[1].partition(" V")[0]
            text = text.replace(f"20% {figure} V", "20% 300 V")
        path.write_text(text if change is None else change(text), encoding="utf-8")
    expected = _moves(before, _reviews(home))
    assert _told(rows) == expected and bool(expected) == bool(touched)


def test_what_if_a_limit_or_a_pack_were_another(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path)
    (home / "other.derate.yaml").write_text(lamp("Other", 380) + "packs: [mains-fusing]\n", encoding="utf-8")
    pack = home / "house.yaml"
    pack.write_text(HOUSE.replace("SHARE", "0.94"), encoding="utf-8")
    before = _reviews(home)
    by_limit = _asked(
        capsys, str(home), "--set", "rules[bulk-capacitor-voltage].keep=voltage_peak <= 0.94 * rated.voltage"
    )["what_if"]
    default = ("commercial-practice", "mains-fusing", "insulation-it-equipment", "converter", "mains-events", "bench")
    after = _reviews(home, (*default, str(pack)))
    moved = {
        one for one in _moves(before, after) if one[1] == "bulk-capacitor-voltage" and one[0] != "other.derate.yaml"
    }
    assert moved and _told(by_limit) == moved  # a design that does not use the rule is asked nothing new
    by_pack = _asked(capsys, str(home), "--if-pack", str(pack))["what_if"]
    assert moved <= _told(by_pack) and any(one["design"] == "other.derate.yaml" for one in by_pack)


@pytest.mark.parametrize(
    ("said", "other"),
    [
        ("site.mains_tolerance=20%", "site.mains_tolerance=19%"),
        (
            "rules[bulk-capacitor-voltage].keep=voltage_peak <= 0.94 * rated.voltage",
            "rules[bulk-capacitor-voltage].keep=voltage_peak <= 0.95 * rated.voltage",
        ),
    ],
)
def test_what_if_is_kept_and_is_no_run_of_the_archive(
    said: str, other: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also of a limit, whose pack is a file of one run alone; another limit, or a design that changed, is another."""
    home = folder_of(tmp_path, 2)
    watched = Watched(monkeypatch)
    words = (str(home), "--set", said, "--runs")
    first = _asked(capsys, *words)
    assert watched.since() == ["lamp-0", "lamp-0", "lamp-1", "lamp-1"] and [one["run"] for one in first["runs"]] == [1]
    with opened(home) as store:
        runs = store.runs()
    assert _asked(capsys, *words) == first and watched.since() == []
    with opened(home) as store:
        assert store.runs() == runs
    _asked(capsys, str(home), "--set", other)
    assert watched.since() == ["lamp-0", "lamp-1"]
    (home / "lamp-1.derate.yaml").write_text(lamp("Lamp 1", 450), encoding="utf-8")
    _asked(capsys, *words)
    assert watched.since() == ["lamp-1", "lamp-1"]


def test_what_cannot_be_read_with_what_is_set_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path, 1)
    assert main(["archive", str(home), "--set", "site.mains_tolerance=20 V", "--jobs", "1"]) == 2
    assert "with what was set" in capsys.readouterr().err
    assert main(["archive", str(home), "--set", "site.mains_tolerence=20%", "--jobs", "1"]) == 2
    assert "mains_tolerance" in capsys.readouterr().err


@pytest.mark.parametrize(
    "said",
    ["", "x", "site=1", "site.mains_tolerance", "site.mains_tolerance=", "=1", "parts[C1]=1", "parts=1", "parts.C1=1 V",
     "site[C1].x=1", "rules[x].says=1", "rules.x.keep=1", "site..x=1", "site.x=1\n2", "site.x=\x07", "parts[C1.x=1",
     "a b.c=1", "site.x=" + "1" * 600],
)  # fmt: skip
def test_what_sets_nothing_is_refused(said: str) -> None:
    with pytest.raises(ReadingError):
        read_setting(said)


def test_settings_are_read_and_laid_over_a_file() -> None:
    assert read_setting(" parts[MB 6S].rated.voltage = 4 V ") == Setting(("parts", "rated", "voltage"), "4 V", "MB 6S")
    assert read_setting("parts.C1.rated.voltage=4 V") == read_setting("parts[C1].rated.voltage=4 V")
    assert read_setting("rules[a-b].keep=x <= 2 * y") == Limit("a-b", "x <= 2 * y")
    node = compose("site: {ambient: 0..40 degC}\nparts: {A: {marking: B (seen)}, B: {kind: fuse}}\n", "x", only=True)

    def laid(*said: str) -> Mapping:
        settings = tuple(one for one in map(read_setting, said) if isinstance(one, Setting))
        return Change(settings).of(node)

    def at(found: Mapping, *path: str) -> str | None:
        for one in path:
            below = found.get(one)
            if not isinstance(below, Mapping):
                return str(below) if below is not None else None
            found = below
        return None

    assert at(laid("site.mains_tolerance=20%"), "site", "mains_tolerance") == "20%"
    assert at(laid("site.mains_tolerance=20%"), "site", "ambient") == "0..40 degC"
    both = laid("parts[B].rated.voltage=4 V", "supply.name=x")
    assert at(both, "parts", "B", "rated", "voltage") == "4 V" and at(both, "supply", "name") == "x"
    assert at(both, "parts", "A", "rated", "voltage") is None  # a designator is meant before a marking
    for said in ("site.ambient=0..40 degC", "parts[X].rated.voltage=1 V"):
        with pytest.raises(Untouched):
            laid(said)


def test_the_sql_that_is_printed_is_what_is_run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path, 1)
    part = "it's"
    main(["archive", str(home), "--part", part, "--verbose", "--jobs", "1", "--rows", "7"])
    told = capsys.readouterr().err
    question = ask.of_part(1, part, 7)
    assert question.sql in told and "'it''s'" in question.sql
    with opened(home) as store:
        assert store.table(question.sql)[1] == []


def test_options_that_do_not_go_together(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = str(folder_of(tmp_path, 1))
    for words in (
        ["--shipped-gate", "--pack", "mains-fusing"],
        ["--shipped-gate", "--if-pack", "mains-fusing"],
        ["--as-stored"],
        ["--as-stored", "--afresh"],
        ["--as-stored", "--set", "site.altitude=1 km"],
        ["--moved", "1"],
        ["--moved", "1", "9"],
        ["--moved"],
        ["--jobs", "0"],
        ["--rows", "x"],
        ["--set", "rules[no-such-rule].keep=1 <= 2"],
        ["--set", "rules[bulk-capacitor-voltage].keep=voltage_peek <= 2"],
        ["--set", "rules[mains-filter-fitted].keep=1 <= 2"],
    ):
        assert main(["archive", home, *words]) == 2, words
        out, told = capsys.readouterr()
        assert told.startswith("command line: error:") and "Traceback" not in told, (words, told)


@pytest.mark.parametrize(
    "words", [["--shipped-gate"], ["--stop-at", "default"], ["--pack", "mains-fusing"], ["--known", "record"]]
)
def test_what_is_stored_is_not_taken_for_what_another_gate_would_say(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    """Each gate is answered from the newest run that it judged, and by none where it judged none."""
    home = folder_of(tmp_path, 1)
    main(["lint", str(home), "--record", str(tmp_path / "known"), "--reason", "old", "--by", "A. Person", *LAST])
    words = [str(tmp_path / "known") if one == "record" else one for one in words]
    stored = ["archive", str(home), "--as-stored", *ON]
    run = ["archive", str(home), "--jobs", "1", *ON]

    def asked(*more: str) -> tuple[int, str, str]:
        capsys.readouterr()
        return (main([*stored, *more]), *capsys.readouterr())

    own = main([*run, *words])
    assert own == (0 if words[0] == "--known" else 1)
    status, out, told = asked()  # without it another gate is asked for, which never judged
    assert (status, out) == (2, "") and "no run of this store was judged by what the files alone say" in told
    assert asked(*words)[0] == own
    assert main(run) == 1 and asked()[0] == 1 and asked(*words)[0] == own
    other = ["--stop-at", "marginal"]
    status, out, told = asked(*other)
    assert (status, out) == (2, "") and "no run of this store was judged with --stop-at" in told


@pytest.mark.parametrize(
    ("sets", "status", "told"),
    [
        (["parts[MB6].rated.reverse_voltage=400 V"], 2, "no design has a part 'MB6'"),
        (["site.mains_tolerance=20%", "parts[mb6].rated.reverse_voltage=400 V"], 2, "no design has a part 'mb6'"),
        (["rules[thermal-link-voltage].keep=1 <= 2"], 2, "in no design, or stands there already"),
        (["parts[mb6s].rated.reverse_voltage=600 V"], 1, "in no design, or stands there already"),
        (["parts[mb6s].rated.reverse_voltage=400 V"], 1, ""),
        (["parts[KBP206].rated.reverse_voltage=400 V"], 1, ""),
        (["rules[bulk-capacitor-voltage].keep=voltage_peak <= 0.9 * rated.voltage"], 1, ""),
    ],
)
def test_what_is_set_in_no_design_is_not_told_as_none_that_moves(
    sets: list[str], status: int, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A marking that was mistyped would move nothing anywhere, and so would a part that is in no design."""
    home = folder_of(tmp_path)
    (home / "lamp-1.derate.yaml").write_text(lamp("Lamp 1", mark="KBP206"), encoding="utf-8")
    words = [word for one in sets for word in ("--set", one)]
    assert main(["archive", str(home), "--jobs", "1", *ON, *words]) == status
    out, err = capsys.readouterr()
    assert told in err and bool(told) == bool(err), err
    many = {"KBP206": 1, "mb6s": 2}.get(sets[0][6:].partition("]")[0], 3) if not told or len(sets) == 2 else 0
    assert f"{', '.join(sets)}, in {many} of 3 designs" in out


def test_a_table_that_leaves_rows_out_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path)
    words = ["archive", str(home), "--jobs", "1", *ON, "--set", "parts[C1].rated.voltage=200 V", "--rows"]
    for many, more in ((1, True), (1000, False)):
        capsys.readouterr()
        main([*words, str(many)])
        assert (f"in 3 of 3 designs: the first {many}, --rows takes more" in capsys.readouterr().out) == more


def test_runs_are_held_beside_those_of_the_same_gate(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A design that nobody changed has not moved because another gate judged it."""
    home = folder_of(tmp_path, 1)
    words, other = ["archive", str(home), "--jobs", "1", *ON], ["--pack", "mains-fusing"]
    main(words)
    main([*words, *other])
    capsys.readouterr()
    assert main([*words, "--moved"]) == 2
    assert "there is one run in this store that was judged so" in capsys.readouterr().err
    (home / "lamp-0.derate.yaml").write_text(lamp("Lamp 0", 250), encoding="utf-8")
    main([*words, *other])
    page = tmp_path / "page.html"
    capsys.readouterr()
    assert main([*words, "--moved", "--runs", "--page", str(page), "--format", "json"]) == 1
    said = json.loads(capsys.readouterr().out)
    assert said["run"] == 4 and {one["rule"] for one in said["moved"]} >= {"bulk-capacitor-voltage"}
    assert [(one["run"], one["gate"]) for one in said["runs"]] == [
        (1, "that of run 4"), (2, "another"), (3, "another"), (4, "that of run 4")
    ]  # fmt: skip
    with opened(home) as store:
        assert [row[0] for row in store.table(ask.trend(4).sql)[1]] == [1, 4]
        assert store.alike(4) == [4, 1] and store.alike(2) == [3, 2]


def test_a_record_that_was_written_anew_is_another_gate(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home, record = folder_of(tmp_path, 1), tmp_path / "known"
    main(["lint", str(home), "--record", str(record), "--reason", "old", "--by", "A. Person", *LAST])
    words = ["archive", str(home), "--jobs", "1", "--known", str(record), *ON]
    assert main(words) == 0 == main([*words, "--as-stored"])
    record.write_text(record.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert main([*words, "--as-stored"]) == 2
    assert "was judged with --known as they are now" in capsys.readouterr().err


def test_what_is_stored_is_no_answer_of_another_day_or_version(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A waiver that ended since holds nothing back any more, and another version may judge otherwise: status 2."""
    home = folder_of(tmp_path, 1)
    waived = "waivers: [{rule: mains-filter-fitted, subject: supply, reason: bench only, by: A. Person, up_to: 2, "
    path = home / "lamp-0.derate.yaml"
    path.write_text(f"{lamp('Lamp 0')}{waived}last_day: {DAY + timedelta(9)}}}]\n", encoding="utf-8")
    assert main(["archive", str(home), "--jobs", "1", *ON]) == 1
    stored = ["archive", str(home), "--as-stored", "--today"]
    for days, status in ((0, 1), (9, 1), (10, 2)):
        capsys.readouterr()
        assert main([*stored, str(DAY + timedelta(days))]) == status
        assert ("counts otherwise on" in capsys.readouterr().err) == (status == 2)
    monkeypatch.setattr(trail, "program", lambda: "another")
    assert main([*stored, str(DAY)]) == 2
    assert "run 1 was judged by another version of derate" in capsys.readouterr().err


def test_exit_status(tmp_path: Path) -> None:
    home = folder_of(tmp_path, 1)
    assert ran(home).run == 1
    assert main(["archive", str(home), "--jobs", "1", "--today", DAY.isoformat()]) == 1
    assert main(["archive", str(home), "--pack", "rules-that-are-not", "--jobs", "1"]) == 2
