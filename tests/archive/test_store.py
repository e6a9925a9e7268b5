"""The store: a file that somebody handed over is not believed, and nothing beside it is read or written."""

from __future__ import annotations

import os
from math import inf
from pathlib import Path

import duckdb
import pytest
from archive_bench import folder_of, lamp, opened, order, ran, results, tasks

from derate.archive.judging import one_by_one
from derate.archive.rows import NOBODY, Judged
from derate.archive.store import FORM, RESULTS, TABLES, Store
from derate.cli.main import main
from derate.terms.values import ReadingError


def test_what_is_no_store_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = folder_of(tmp_path, 1)
    store = home / "derate-archive.duckdb"
    store.write_text("hello", encoding="utf-8")
    assert main(["archive", str(home), "--jobs", "1"]) == 2
    assert "derate-archive.duckdb" in capsys.readouterr().err and store.read_text(encoding="utf-8") == "hello"
    store.unlink()
    duckdb.connect(str(store)).execute("CREATE TABLE mine(x INTEGER)").close()
    assert main(["archive", str(home), "--jobs", "1"]) == 2
    assert "no store of an archive" in capsys.readouterr().err
    store.unlink()
    os.mkfifo(store)
    assert main(["archive", str(home), "--jobs", "1"]) == 2
    store.unlink()
    (tmp_path / "elsewhere").touch()
    store.symlink_to(tmp_path / "elsewhere")
    assert main(["archive", str(home), "--jobs", "1"]) == 2
    assert "this is a link" in capsys.readouterr().err and not (tmp_path / "elsewhere").stat().st_size
    store.unlink()
    assert main(["archive", str(home), "--jobs", "1", "--store", str(tmp_path / "none" / "x")]) == 2


@pytest.mark.parametrize("table", [*TABLES])
def test_a_view_in_place_of_a_table_is_refused(table: str, tmp_path: Path) -> None:
    """What a view reads its author decides; a column more or less is another form of the store."""
    home = folder_of(tmp_path, 0)
    path = str(home / "derate-archive.duckdb")
    Store(path).__exit__(None, None, None)
    with duckdb.connect(path) as own:
        own.execute(f"ALTER TABLE {table} RENAME TO real")
        own.execute(f"CREATE VIEW {table} AS SELECT * FROM real")
    with pytest.raises(ReadingError, match="no store"):
        Store(path)
    with duckdb.connect(path) as own:
        own.execute(f"DROP VIEW {table}")
        own.execute(f"ALTER TABLE real RENAME TO {table}")
    Store(path).__exit__(None, None, None)
    with duckdb.connect(path) as own:
        own.execute(f"ALTER TABLE {table} ADD COLUMN more INTEGER")
    with pytest.raises(ReadingError, match="no store"):
        Store(path)


@pytest.mark.parametrize("written", [False, True])
def test_nothing_beside_the_store_is_read_or_written(written: bool, tmp_path: Path) -> None:
    home = folder_of(tmp_path, 0)
    other = tmp_path / "other.csv"
    other.write_text("a\n1\n", encoding="utf-8")
    with Store(str(home / "store"), [str(tmp_path / "allowed.csv")]) as store:
        if written:
            store.written()
        for sql in (
            f"SELECT * FROM '{other}'",
            f"SELECT * FROM read_text('{other}')",
            f"COPY (SELECT 1) TO '{other}'",
            f"ATTACH '{tmp_path / 'second'}'",
            "SET enable_external_access = true",
            "INSTALL httpfs",
        ):
            with pytest.raises(ReadingError, match="cannot be used"):
                store.rows(sql)
        store.rows(f"COPY (SELECT 1 AS a) TO '{tmp_path / 'allowed.csv'}'")
    assert other.read_text(encoding="utf-8") == "a\n1\n" and (tmp_path / "allowed.csv").is_file()


def test_the_store_is_one_file_that_others_can_ask(tmp_path: Path) -> None:
    """Beside the designs lies one file; its view `results` gives one table of results per run, and Parquet the same."""
    home = folder_of(tmp_path, 2)
    assert main(["archive", str(home), "--jobs", "1", "--parquet", str(tmp_path / "r.parquet")]) == 1
    assert sorted(one.name for one in home.iterdir()) == [
        ".git", "derate-archive.duckdb", "lamp-0.derate.yaml", "lamp-1.derate.yaml",
    ]  # fmt: skip
    assert sorted(one.name for one in tmp_path.iterdir()) == ["designs", "r.parquet"]
    with duckdb.connect(str(home / "derate-archive.duckdb"), read_only=True) as own:
        names = [one[0] for one in own.execute("DESCRIBE results").fetchall()]
        rows = own.execute("SELECT * FROM results WHERE run = 1 ORDER BY ALL").fetchall()
    wanted = [
        "design",
        "revision",
        "rule",
        "subject",
        "verdict",
        "stress_near",
        "limit_far",
        "ratio",
        "rests_on",
        "packs",
        "version",
        "duration",
    ]
    assert {*wanted} <= {*names} and len(rows) > 200
    assert duckdb.sql(f"SELECT * FROM '{tmp_path / 'r.parquet'}' ORDER BY ALL").fetchall() == rows
    with opened(home) as store:
        assert len(store.rows(RESULTS)) == len(rows)


def test_while_it_is_written_little_of_it_is_held_in_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And all that the machine has may be taken for what is asked: after what was tried is written too."""
    limits = []
    limit = "SELECT current_setting('memory_limit')"

    def watched(name: str) -> None:
        own = getattr(Store, name)

        def seen(store: Store, *given: object) -> object:
            limits.append((name, store.rows(limit)[0][0]))
            return own(store, *given)

        monkeypatch.setattr(Store, name, seen)

    for name in ("add", "link", "table"):
        watched(name)
    home = folder_of(tmp_path, 2)
    assert main(["archive", str(home), "--jobs", "1", "--set", "site.mains_tolerance=20%"]) == 1
    while_writing = {most for name, most in limits if name != "table"}
    asked = {most for name, most in limits if name == "table"}
    assert while_writing == {"91.5 MiB"} and asked and not asked & while_writing  # 96 MB
    with opened(home) as store:
        before = store.rows("SELECT count(*) FROM finding")
        store.written()
        assert store.rows("SELECT count(*) FROM finding") == before != [(0,)]


def test_what_is_kept_is_what_was_handed_over(tmp_path: Path) -> None:
    """To the last bit of every number, with no word taken for anything else: nothing, an infinite one, a quote."""
    home = folder_of(tmp_path, 1)
    run = ran(home).run
    own = one_by_one(order(home), tasks(home))
    first = next(own).findings[0]
    least, most = 5e-324, 1.7976931348623157e308
    odd = [
        first._replace(subject='a "b"\\', stress=(least, 0.1, 1.0 / 3.0, most), limit=NOBODY, ratio=None),
        first._replace(subject="null", stress=(-0.0, 1e22, 1e23, None), ratio=9007199254740993.0, blocks=True),
        first._replace(subject="é\u2028€", ratio=inf),
        first._replace(subject="", ratio=-0.0, blocks=False),
    ]
    with opened(home) as store:
        for some in (odd, odd[:2]):  # with a number that has no JSON, and without
            one = Judged("odd", "judged", findings=tuple(some))
            store.add(run, [one], "", "", "")
            kept = store.rows(
                'SELECT subject, stress, "limit", ratio, blocks FROM finding WHERE result = '
                "(SELECT max(result) FROM result) ORDER BY rowid"
            )
            wanted = [(row.subject, row.stress, row.limit, row.ratio, row.blocks) for row in some]
            assert repr(kept) == repr(wanted)


def test_a_file_that_is_written_is_no_link_and_not_the_store(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    home = folder_of(tmp_path, 1)
    assert ran(home).run == 1
    store = home / "derate-archive.duckdb"
    for option in ("--csv", "--parquet", "--page"):
        assert main(["archive", str(home), "--jobs", "1", option, str(store)]) == 2
        assert "is not written over" in capsys.readouterr().err
        link = tmp_path / "link"
        link.unlink(missing_ok=True)
        link.symlink_to(tmp_path / "there")
        assert main(["archive", str(home), "--jobs", "1", option, str(link)]) == 2
        assert not (tmp_path / "there").exists()


def test_no_spreadsheet_takes_a_text_for_a_formula(tmp_path: Path) -> None:
    home = folder_of(tmp_path, 0)
    (home / "=1+1.derate.yaml").write_text(lamp('"@SUM(A1)"'), encoding="utf-8")
    rows = results(home, ran(home).run, tmp_path)
    assert {(one["design"], one["name"]) for one in rows} == {("'=1+1.derate.yaml", "'@SUM(A1)")}
    assert [one["rule"] for one in rows] == sorted(one["rule"] for one in rows)


@pytest.mark.parametrize(("by", "age"), [(-1, "an older"), (1, "a newer")])
def test_a_store_of_another_form_is_told_as_such(
    by: int, age: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With what to do about it; nothing in it is changed, and what it holds can still be read by others."""
    home = folder_of(tmp_path, 1)
    path = home / "derate-archive.duckdb"
    ran(home)
    with duckdb.connect(str(path)) as own:
        own.execute(f"UPDATE form SET form = {FORM + by}")
        own.execute("DROP TABLE part")  # another form has other tables
    before = path.read_bytes()
    assert main(["archive", str(home), "--jobs", "1"]) == 2
    told = capsys.readouterr().err
    assert f"written by {age} version of derate" in told and f"its form is {FORM + by}" in told and "--store" in told
    assert path.read_bytes() == before
    with duckdb.connect(str(path), read_only=True) as own:
        assert own.execute("SELECT count(*) FROM results").fetchall()[0][0] > 100
