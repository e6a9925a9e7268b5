"""Runs over an archive: what is judged, what is not judged again, what one bad file and one lost process change."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable, Iterable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from archive_bench import DAY, HOUSE, Watched, folder_of, lamp, opened, order, ran, results, tasks

from derate.archive import refresh as refreshing
from derate.archive import trail
from derate.archive.judging import AHEAD, BATCH, Task, in_processes, one_by_one
from derate.archive.refresh import refresh
from derate.cli.main import main
from derate.study.work import Workshop

SOUND = Path(__file__).parents[2] / "designs" / "greenhouse-vent"


def test_the_rows_are_those_of_lint(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path, 1)
    design = home / "lamp-0.derate.yaml"
    main(["lint", str(design), "--format", "json", "--today", DAY.isoformat()])
    said = json.loads(capsys.readouterr().out)["designs"][0]
    rows = results(home, ran(home).run, tmp_path)
    assert len(rows) == len(said["findings"]) > 100

    def key(rule: str, names: str, verdict: str) -> tuple[str, str, str]:
        return rule, names, verdict

    of_lint = sorted(
        key(one["rule"], " – ".join(one["subject"]["names"]) or one["subject"]["kind"], one["verdict"])
        for one in said["findings"]
    )
    assert sorted(key(one["rule"], one["subject"], one["verdict"]) for one in rows) == of_lint
    bulk = next(one for one in said["findings"] if one["rule"] == "bulk-capacitor-voltage")
    row = next(one for one in rows if one["rule"] == "bulk-capacitor-voltage")
    assert float(row["ratio"]) == bulk["ratio"] and row["unit"] == bulk["unit"] == "V"
    for side in ("stress", "limit"):
        assert [float(row[f"{side}_{end}"]) for end in ("low", "near", "far", "high")] == [*bulk[side].values()]
    assert (
        any(one["rests_on"] for one in rows)
        and row["packs"].count("; ") >= 2
        and row["version"]
        and len(row["revision"]) == 12
    )


def test_one_bad_file_stops_no_other(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path, 2)
    (home / "not-utf-8.derate.yaml").write_bytes(b"derate: 1\nsupply: {name: \xff}\n")
    (home / "slip.derate.yaml").write_text(lamp("Slip").replace("plate:", "plaet:"), encoding="utf-8")
    (home / "large.derate.yaml").write_bytes(b"#" * 6_000_000)
    os.mkfifo(home / "pipe.derate.yaml")
    (tmp_path / "outside.yaml").write_text(lamp("Outside"), encoding="utf-8")
    (home / "link.derate.yaml").symlink_to(tmp_path / "outside.yaml")
    Path(os.fsdecode(os.fsencode(home) + b"/odd-\xff.derate.yaml")).write_text(lamp("Odd"), encoding="utf-8")
    store = home / "derate-archive.duckdb"
    assert main(["archive", str(home), "--today", DAY.isoformat(), "--verbose"]) == 2
    out, told = capsys.readouterr()
    assert "3 judged, 0 unchanged, 5 not read" in out and store.is_file()
    for what in ("UTF-8", "plaet", "larger than", "not an ordinary file", "leads out"):
        assert what in told, told
    with opened(home) as one:
        designs = dict(one.rows("SELECT design, outcome FROM judged JOIN result USING (result, design)"))
    assert len(designs) == 8 and designs["odd-\\xff.derate.yaml"] == designs["lamp-1.derate.yaml"] == "judged"
    assert designs["link.derate.yaml"] == designs["pipe.derate.yaml"] == "unread"
    assert main(["archive", str(home), "--today", DAY.isoformat()]) == 2
    assert "0 judged, 3 unchanged, 5 not read" in capsys.readouterr().out  # also of the name that is no text


def test_a_link_out_of_a_folder_without_repository_is_not_followed(tmp_path: Path) -> None:
    home = folder_of(tmp_path, 1, repository=False)
    (tmp_path / "outside.yaml").write_text(lamp("Outside"), encoding="utf-8")
    (home / "link.derate.yaml").symlink_to(tmp_path / "outside.yaml")
    assert ran(home).unread == {"link.derate.yaml": "this design is a link that leads out of the folder"}


LIBRARY = """\
library: house
title: Parts we buy
sources: {series-k: {document: Series K, revision: "3", page: 4, confidence: one source}}
parts:
  K-22-400: {kind: electrolytic capacitor, capacitance: 22 uF 20%, rated: {voltage: 400 V}, source: series-k}
"""


def _changes() -> dict[str, Callable[[Path], Any]]:
    def text(name: str, said: str) -> Callable[[Path], Any]:
        def write(home: Path) -> None:
            (home / name).parent.mkdir(exist_ok=True)
            (home / name).write_text(said, encoding="utf-8")

        return write

    return {
        "the design": lambda home: text("lamp-0.derate.yaml", lamp("Lamp 0", 420))(home),
        "what it revises": text("base.yaml", lamp("Base", 450)),
        "a capture": text("captures/a.csv", "s,A\n0,0\n2e-3,1\n"),
        "settings that come up": text("sub/.derate.yaml", "longest_days: 100\n"),
        "settings that change": text(".derate.yaml", "longest_days: 200\n"),
        "a pack of the house": text("own.yaml", HOUSE.replace("house", "own").replace("SHARE", "0.8")),
        "a pack of the same name nearer by": text("rules/house.yaml", HOUSE.replace("SHARE", "0.7")),
        "a library of parts": text("house.parts.yaml", LIBRARY.replace("22 uF", "33 uF")),
        "another library within reach": text("parts/more.parts.yaml", LIBRARY.replace("K-22", "K-23")),
    }


# which designs each change is about, of those made by `_whole`
ABOUT = {
    "the design": ["lamp-0"],
    "what it revises": ["revision"],
    "a capture": ["read"],
    "settings that come up": ["below"],
    "settings that change": ["below", "lamp-0", "lamp-1", "own", "read", "revision", "typed"],
    "a pack of the house": ["own"],
    "a pack of the same name nearer by": [],
    "a library of parts": ["typed"],
    "another library within reach": ["typed"],
}


def _whole(tmp_path: Path) -> Path:
    """Designs that hang on every kind of file."""
    home = folder_of(tmp_path, 2)
    (home / ".derate.yaml").write_text("longest_days: 300\n", encoding="utf-8")
    (home / "base.yaml").write_text(lamp("Base"), encoding="utf-8")
    revision = "derate: 1\nrevision_of: base.yaml\nsupply: {name: Revision}\n"
    (home / "revision.derate.yaml").write_text(revision, encoding="utf-8")
    (home / "own.yaml").write_text(HOUSE.replace("house", "own").replace("SHARE", "0.9"), encoding="utf-8")
    packs = "packs: [commercial-practice, mains-fusing, insulation-it-equipment, own.yaml]\n"
    (home / "own.derate.yaml").write_text(lamp("Own") + packs, encoding="utf-8")
    (home / "captures").mkdir()
    (home / "captures" / "a.csv").write_text("s,A\n0,0\n1e-3,1\n", encoding="utf-8")
    reading = (
        "readings:\n  - at: {mains: 230 V, frequency: 50 Hz, switch_on: cold at crest}\n"
        "    capture: {file: captures/a.csv, time: s, current: {F1: A}}\n"
    )
    (home / "read.derate.yaml").write_text(lamp("Read") + reading, encoding="utf-8")
    (home / "sub").mkdir()
    (home / "sub" / "below.derate.yaml").write_text(lamp("Below"), encoding="utf-8")
    (home / "house.parts.yaml").write_text(LIBRARY, encoding="utf-8")
    typed = lamp("Typed").replace("electrolytic capacitor 22 uF 20% 400 V", "{part: K-22-400}")
    (home / "typed.derate.yaml").write_text(typed, encoding="utf-8")
    return home


def test_what_nobody_changed_is_not_judged_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    watched = Watched(monkeypatch)
    home = _whole(tmp_path)
    first = ran(home)
    assert watched.since() == ABOUT["settings that change"] and not first.unread, first
    for number, (what, change) in enumerate(_changes().items()):
        same = ran(home)
        assert (watched.since(), same.same, same.judged) == ([], True, 0), what
        change(home)
        found = ran(home)
        assert (what, watched.since()) == (what, ABOUT[what])
        assert found.same == (not ABOUT[what]) and found.unchanged == 7 - len(ABOUT[what]), (what, number)


@pytest.mark.parametrize(
    ("what", "of"),
    [
        ("a pack of the house", "own"),
        ("settings that change", "own"),
        ("the design", "lamp-0"),
        ("what it revises", "revision"),
        ("a library of parts", "typed"),
    ],
)
def test_what_changed_while_a_run_was_at_work_is_not_taken_for_what_was_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str, of: str
) -> None:
    """A process reads a pack once: what it judged by the one from before must not stand for the one there is now."""
    home = _whole(tmp_path)
    own = Workshop.work

    def work(workshop: Workshop, path: str) -> Any:
        done = own(workshop, path)
        if path.endswith(f"/{of}.derate.yaml"):
            _changes()[what](home)
        return done

    monkeypatch.setattr(Workshop, "work", work)
    ran(home)
    monkeypatch.undo()
    watched = Watched(monkeypatch)
    ran(home)
    assert of in watched.since()
    ran(home)
    assert watched.since() == []


def test_another_shipped_profile_is_another_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The digest that a worker of a cluster is held to takes in every pack it could be asked for."""
    rules = tmp_path / "rules"
    (rules / "profiles").mkdir(parents=True)
    profile = rules / "profiles" / "profile-one.yaml"
    profile.write_text("pack: profile-one\n", encoding="utf-8")
    monkeypatch.setattr(trail, "shipped", lambda folder: tmp_path / folder)
    before = trail.program.__wrapped__()
    profile.write_text("pack: profile-one\ntitle: other\n", encoding="utf-8")
    assert trail.program.__wrapped__() != before


def test_a_pack_that_two_files_could_be_is_looked_for_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A pack taken by its name stands no longer once another file of that name is within reach: that is an error."""
    watched = Watched(monkeypatch)
    home = folder_of(tmp_path, 1)
    (home / "rules").mkdir()
    (home / "rules" / "house.yaml").write_text(HOUSE.replace("SHARE", "0.9"), encoding="utf-8")
    design = home / "lamp-0.derate.yaml"
    design.write_text(lamp("Lamp 0") + "packs: [mains-fusing, insulation-it-equipment, house]\n", encoding="utf-8")
    assert not ran(home).unread and watched.since() == ["lamp-0"]
    (home / "house.yaml").write_text(HOUSE.replace("SHARE", "0.8"), encoding="utf-8")
    assert "two files are pack house" in ran(home).unread["lamp-0.derate.yaml"]
    assert watched.since() == ["lamp-0"]
    (home / "house.yaml").unlink()
    assert not ran(home).unread


@pytest.mark.parametrize("link", ["lamp-1.derate.yaml", "rules"])
def test_a_link_that_leads_elsewhere_is_followed_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, link: str
) -> None:
    """To a file, or to a folder: what it led to first lies there unchanged, and is no part of the design any more."""
    watched = Watched(monkeypatch)
    home = folder_of(tmp_path, 1)
    (home / "lamp-0.derate.yaml").unlink()
    kept = home / ".kept"
    for number, share in enumerate(("0.9", "0.1")):
        (kept / f"rules-{number}").mkdir(parents=True)
        (kept / f"rules-{number}" / "house.yaml").write_text(HOUSE.replace("SHARE", share), encoding="utf-8")
        packs = "packs: [mains-fusing, insulation-it-equipment, rules/house.yaml]\n"
        (kept / f"{number}.yaml").write_text(lamp("Lamp", 400 + number) + packs, encoding="utf-8")
    (home / "lamp-1.derate.yaml").symlink_to(kept / "0.yaml")
    (home / "rules").symlink_to(kept / "rules-0")
    first = ran(home)
    assert not first.unread and watched.since() == ["lamp-1"]
    assert ran(home).same and watched.since() == []
    (home / link).unlink()
    (home / link).symlink_to(kept / ("1.yaml" if link.startswith("lamp") else "rules-1"))
    assert ran(home).run == first.run + 1 and watched.since() == ["lamp-1"]
    with opened(home) as store:
        assert store.rows("SELECT count(DISTINCT result) FROM judged") == [(2,)]


def test_options_and_the_program_are_part_of_a_result(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    watched = Watched(monkeypatch)
    home = folder_of(tmp_path, 1)
    for more in ({}, {"stop_at": "marginal"}, {"packs": ("mains-fusing",)}, {"shipped_gate": True}):
        ran(home, **more)
        assert watched.since() == ["lamp-0"], more
        ran(home, **more)
        assert watched.since() == []
    monkeypatch.setattr(refreshing, "program", lambda: "another")
    ran(home)
    assert watched.since() == ["lamp-0"]
    ran(home, afresh=True)
    assert watched.since() == ["lamp-0"]


def test_a_signature_holds_a_result_as_long_as_it_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On the last day of a waiver its result stands, on the day after and before it counts it is judged again."""
    watched = Watched(monkeypatch)
    home = folder_of(tmp_path, 1)
    waiver = (
        "waivers: [{rule: mains-filter-fitted, subject: supply, reason: bench only, by: A. Person, up_to: 2, "
        "last_day: 2027-03-01}]\n"
    )
    (home / "lamp-0.derate.yaml").write_text(lamp("Lamp 0") + waiver, encoding="utf-8")
    last = date(2027, 3, 1)
    for today, judged in (
        (last - timedelta(366), True),  # the first day on which it does not lie too far ahead
        (last, False),
        (last - timedelta(100), False),
        (last + timedelta(1), True),
        (last + timedelta(400), False),
        (last - timedelta(367), True),
    ):
        ran(home, today=today)
        assert (today, watched.since()) == (today, ["lamp-0"] if judged else [])


def test_an_interrupted_run_goes_on_where_it_stopped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = folder_of(tmp_path, 6)
    how = order(home)
    watched = Watched(monkeypatch)

    def three(left: Iterable[Task]) -> Any:
        for number, one in enumerate(one_by_one(how, left)):
            if number == 3:
                raise KeyboardInterrupt
            yield one

    with opened(home) as store, pytest.raises(KeyboardInterrupt):
        refresh(store, tasks(home), how, three)
    stopped = watched.since()
    with opened(home) as store:
        assert store.runs() == () and store.rows("SELECT count(*) FROM judged") == [(3,)]
    (home / "lamp-0.derate.yaml").unlink()
    went_on = ran(home)
    assert went_on.went_on and went_on.run == 1 and watched.since() == ["lamp-3", "lamp-4", "lamp-5"]
    assert stopped[:3] == ["lamp-0", "lamp-1", "lamp-2"]
    at_once = tmp_path / "at-once"
    at_once.mkdir()
    other = folder_of(at_once, 6)
    (other / "lamp-0.derate.yaml").unlink()
    assert results(home, 1, tmp_path) == results(other, ran(other).run, at_once)


def test_processes_give_the_rows_of_one_and_a_lost_one_loses_nothing(tmp_path: Path) -> None:
    """One of two processes is ended by its id as soon as the first rows are there."""
    many = 3 * BATCH
    home = folder_of(tmp_path, many)
    how = order(home)
    ended: list[int] = []

    def lossy(left: Iterable[Task]) -> Any:
        for one in in_processes(how, left, 2):
            if not ended:
                ended.append(int(one.worker))
                os.kill(ended[0], signal.SIGKILL)
            yield one

    with opened(home) as store:
        found = refresh(store, tasks(home), how, lossy)
        workers = {int(one) for (one,) in store.rows("SELECT DISTINCT worker FROM result")}
    assert ended and found.judged == many and not found.unread
    assert os.getpid() not in workers and len(workers) > 1
    alone = tmp_path / "alone"
    alone.mkdir()
    other = folder_of(alone, many)
    rows = results(home, found.run, tmp_path)
    assert rows == results(other, ran(other).run, alone) and len({one["design"] for one in rows}) == many


def test_no_more_is_out_than_the_processes_can_take(tmp_path: Path) -> None:
    """Memory stays flat: designs are taken from the list as rows come back, never all at once."""
    home = folder_of(tmp_path, 1)
    one = tasks(home)[0]._replace(path=str(home / "missing.derate.yaml"))  # told at once
    how = order(home)
    taken = back = most = 0

    def endless() -> Any:
        nonlocal taken
        for number in range(60):
            taken += 1
            yield one._replace(name=f"{number}")

    for _ in in_processes(how, endless(), 2):
        back += 1
        most = max(most, taken - back)
    assert back == taken == 60 and most <= (2 * AHEAD + 1) * BATCH


def test_two_files_that_cannot_be_told_apart_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path, 0)
    for name in (b"a-\xff.derate.yaml", b"a-\\xff.derate.yaml"):
        Path(os.fsdecode(os.fsencode(home) + b"/" + name)).write_text(lamp("One"), encoding="utf-8")
    assert main(["archive", str(home)]) == 2
    assert "is called a-\\xff.derate.yaml too" in capsys.readouterr().err
