"""Headroom and spread over an archive: the figures of the commands, kept beside results, made once and no more."""

from __future__ import annotations

import csv
import json
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import duckdb
import pytest
from archive_bench import DAY, Watched, folder_of, lamp, opened, order, ran, tasks

from derate.archive.judging import Task, in_processes, one_by_one
from derate.archive.rows import Asked
from derate.archive.study_run import CHANGED, UNSAID, Studies, study_all
from derate.cli.main import main

CELLAR = Path(__file__).parents[2] / "designs" / "cellar-lamp" / "cellar-lamp.derate.yaml"
HEADROOM, SPREAD = Asked("headroom"), Asked("spread", 200, 1)
ON = ["--today", DAY.isoformat()]


def _data(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    capsys.readouterr()
    main([*words, "--format", "json"])
    said: dict[str, Any] = json.loads(capsys.readouterr().out)
    return said


def _studied(home: Path, asked: Asked, many: int = 1) -> Studies:
    how = order(home)._replace(study=asked)
    with opened(home) as store:
        run = store.runs()[-1].run
        return study_all(store, run, tasks(home), how, lambda left: in_processes(how, left, many))


def test_the_figures_are_those_of_the_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every end, every cure and every row of the spread of a design, and nothing else."""
    home = tmp_path / "designs"
    (home / ".git").mkdir(parents=True)
    design = home / "cellar.derate.yaml"
    text = CELLAR.read_text(encoding="utf-8").replace(
        "reverse_voltage: 600 V", "reverse_voltage: 300 V"
    )  # a fail to cure
    design.write_text(text, encoding="utf-8")
    ends = _data(capsys, "headroom", str(design))
    spread = _data(capsys, "stress", str(design), "--spread", "--draws", "200")
    files = ["--headroom-to", str(tmp_path / "h.csv"), "--spread-to", str(tmp_path / "s.parquet")]
    asked = ["--headroom", "--spread", "--draws", "200", "--jobs", "1"]
    found = _data(capsys, "archive", str(home), *asked, *files)
    by_axis = {one["axis"]: one for one in found["headroom"]}
    assert len(found["headroom"]) == len(ends["ends"]) == 4
    for one in ends["ends"]:
        row = by_axis[one["axis"]]
        assert (row["rated"], row["end"]) == tuple(one[key] and [one[key]] * 4 for key in ("rated", "end"))
        assert (row["unit"], row["nothing_stops_it"], row["why"]) == (one["unit"], one["open"], one["why"])
        assert row["rule"] == (one["stops"]["rule"] if one["stops"] else "")
    assert any(one["end"] is not None for one in ends["ends"])
    cures = [(one["rule"], one["quantity"], one["unit"]) for one in found["cures"]]
    assert cures and sorted(cures) == sorted(
        (one["finding"]["rule"], one["quantity"], one["unit"]) for one in ends["cures"]
    )
    rows = {(one["rule"], one["subject"]): one for one in found["spread"]}
    assert len(rows) == len(found["spread"]) == len(spread["rows"]) > 10
    drawn = 0
    for one in spread["rows"]:
        row = rows[one["rule"], " – ".join(one["subject"]["names"]) or one["subject"]["kind"]]
        share = one["draws"]["share_at_95_percent"] if one["draws"] else {"low": None, "high": None}
        assert (row["share_low"], row["share_high"]) == (share["low"], share["high"])
        assert row["safety"] == one["safety"] and row["stress"] == [*one["stress"].values()]
        drawn += one["draws"] is not None
        if one["draws"]:
            with opened(home) as store:
                sql = (
                    "SELECT mean, sigma, draws, beyond, root_low, root_high FROM spread WHERE rule = ? AND subject = ?"
                )
                kept = store.rows(sql, (row["rule"], row["subject"]))
            own = one["draws"]
            root = one["root"] or {"low": None, "high": None}
            assert kept == [(own["mean"], own["sigma"], own["draws"], own["beyond"], root["low"], root["high"])]
    assert drawn > 2
    with (tmp_path / "h.csv").open(encoding="utf-8", newline="") as file:
        assert [one["axis"] for one in csv.DictReader(file)] == sorted(by_axis)
    kept = duckdb.sql(f"SELECT rule, subject, share_high FROM '{tmp_path / 's.parquet'}' ORDER BY ALL").fetchall()
    assert kept == sorted((rule, subject, one["share_high"]) for (rule, subject), one in rows.items())


def test_a_study_stands_as_long_as_its_result(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only a design that changed is studied again; another number of draws is another study beside the first."""
    home = folder_of(tmp_path, 3)
    ran(home)
    watched = Watched(monkeypatch)
    assert (_studied(home, HEADROOM).done, watched.since()) == (3, ["lamp-0", "lamp-1", "lamp-2"])
    again = _studied(home, HEADROOM)
    assert (again.done, again.stood, watched.since()) == (0, 3, [])
    assert (_studied(home, SPREAD).done, watched.since()) == (3, ["lamp-0", "lamp-1", "lamp-2"])
    assert _studied(home, SPREAD._replace(draws=300)).done == 3 and watched.since()
    (home / "lamp-1.derate.yaml").write_text(lamp("Lamp 1", 450), encoding="utf-8")
    ran(home)
    assert watched.since() == ["lamp-1"]
    again = _studied(home, HEADROOM)
    assert (again.done, again.stood, watched.since()) == (1, 2, ["lamp-1"])
    with opened(home) as store:
        twice = "SELECT count(*) FROM (SELECT result, axis FROM headroom GROUP BY ALL HAVING count(*) > 1)"
        assert store.rows(twice) == [(0,)]
        draws = store.rows("SELECT DISTINCT study FROM spread ORDER BY study")
    assert draws == [("spread, 200 draws, seed 1",), ("spread, 300 draws, seed 1",)]


def test_an_interrupted_study_goes_on_and_a_design_that_changed_meanwhile_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = folder_of(tmp_path, 4)
    run = ran(home).run
    how = order(home)._replace(study=HEADROOM)

    def two(left: Iterable[Task]) -> Any:
        for number, one in enumerate(one_by_one(how, left)):
            if number == 2:
                raise KeyboardInterrupt
            yield one

    with opened(home) as store, pytest.raises(KeyboardInterrupt):
        study_all(store, run, tasks(home), how, two)
    (home / "lamp-3.derate.yaml").write_text(lamp("Lamp 3", 450), encoding="utf-8")
    watched = Watched(monkeypatch)
    found = _studied(home, HEADROOM)
    assert watched.since() == ["lamp-2", "lamp-3"] and (found.stood, found.done) == (2, 2)
    assert found.missed == {"lamp-3.derate.yaml": CHANGED}
    with opened(home) as store:
        sql = "SELECT design, outcome FROM study JOIN result USING (result) ORDER BY design"
        kept = [outcome for _, outcome in store.rows(sql.replace("outcome", "study.outcome"))]
    assert kept == ["judged", "judged", "judged", "unread"]
    ran(home)
    assert not _studied(home, HEADROOM).missed  # judged again, and studied with it


def test_two_results_of_which_nobody_knows_what_they_were_made_from_are_not_the_same(tmp_path: Path) -> None:
    """Something was changed while a design was judged, and again while it was studied: both trails are empty."""
    home = folder_of(tmp_path, 1)
    run = ran(home).run
    how = order(home)._replace(study=HEADROOM)
    with opened(home) as store:
        store.rows("UPDATE result SET trail = ''")

        def unsaid(left: Iterable[Task]) -> Any:
            return (one._replace(trail="") for one in one_by_one(how, left))

        assert study_all(store, run, tasks(home), how, unsaid).missed == {"lamp-0.derate.yaml": UNSAID}
        assert store.studied(run, HEADROOM.key) == 0


def test_processes_give_the_rows_of_one(tmp_path: Path) -> None:
    """Sorted, without what differs from machine to machine."""
    home = folder_of(tmp_path, 3)
    ran(home)
    seen = []
    for many in (1, 2):
        for asked in (HEADROOM, SPREAD):
            assert _studied(home, asked, many).done == 3
        with opened(home) as store:
            seen.append([store.rows(f"SELECT * FROM {one} ORDER BY ALL") for one in ("headroom", "spread")])
            workers = {one for (one,) in store.rows("SELECT worker FROM study")}
            store.rows("DELETE FROM study")
    assert seen[0] == seen[1] and all(seen[0]) and str(os.getpid()) not in workers


def test_options_that_a_study_does_not_take_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path, 1)
    for words, told in (
        (["--draws", "300"], "--draws belongs to --spread"),
        (["--spread", "--draws", "3"], "write a number from 200"),
        (["--headroom", "--shipped-gate"], "leave one of them out"),
        (["--spread", "--stop-at", "marginal"], "leave one of them out"),
    ):
        assert main(["archive", str(home), *words]) == 2
        assert told in capsys.readouterr().err
    assert not (home / "derate-archive.duckdb").exists()
    link = tmp_path / "out.csv"
    link.symlink_to(tmp_path / "elsewhere")
    assert main(["archive", str(home), "--jobs", "1", "--headroom-to", str(link)]) == 2
    assert not (tmp_path / "elsewhere").exists()


def test_what_has_no_study_is_told_where_nothing_is_worked_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """From the store alone: another number of draws is another study, and there is none of it."""
    home = folder_of(tmp_path, 2)
    words = ["archive", str(home), "--jobs", "1", "--spread", "--draws"]
    main([*words, "200", *ON])
    assert "spread: 2 studied" in capsys.readouterr().out
    for draws, there, left, status in (("200", 2, 0, 1), ("300", 0, 2, 2)):
        assert main([*words, draws, "--as-stored"]) == status
        out, told = capsys.readouterr()
        assert f"spread: {there} studied, {left} not studied" in out
        assert ("no spread of 2 designs of this run is in the store" in told) == bool(left)
