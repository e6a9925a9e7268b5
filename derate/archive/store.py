"""The store of an archive: one DuckDB file with its runs, what every design came to, and each finding.

A result is kept once, however many runs it stands in: `judged` says which result a design had in which run. What is
said of a file that somebody handed over is not believed: it has to hold the tables written here, as tables, and
nothing outside the file is read or written while it is open, save what is named to be written.
"""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple

from derate.archive.rows import CureRow, EndRow, FindingRow, Judged, PartRow, SpreadRow
from derate.terms.values import Place, Problem, ReadingError
from derate.terms.words import HAZARDS, VERDICTS
from derate.text.files import may_be_written, open_ordinary

FORM = 2
# While rows are written no more of the store is held in memory than this; without a limit a process that writes a
# thousand designs takes 139 MB more than with a hundred. What is written together is as large in any archive.
MOST_WHILE_WRITING = "96MB"
_FOUR = "DOUBLE[4]"
_COUNTS = tuple(one.replace(" ", "_") for one in VERDICTS)
_NUMBER = "DOUBLE"
_OF_A_STUDY = {"result": "INTEGER", "study": "VARCHAR"}


def _columns(names: Sequence[str], kinds: Mapping[str, str]) -> dict[str, str]:
    return {one: kinds.get(one, "VARCHAR") for one in names}


TABLES: dict[str, dict[str, str]] = {
    "form": {"form": "INTEGER"},
    "run": {
        "run": "INTEGER",
        "what": "VARCHAR",  # '' as it is; else what was set otherwise
        "options": "VARCHAR",
        "day": "DATE",
        "version": "VARCHAR",
        "program": "VARCHAR",
        "began": "TIMESTAMP",
        "ended": "TIMESTAMP",  # NULL while it is not at its end
    },
    "judged": {"run": "INTEGER", "design": "VARCHAR", "result": "INTEGER"},
    "result": {
        "result": "INTEGER",
        "design": "VARCHAR",
        "outcome": "VARCHAR",
        "name": "VARCHAR",
        "revision": "VARCHAR",
        "overall": "VARCHAR",
        "blocks": "INTEGER",
        "held_back": "INTEGER",
        **dict.fromkeys(HAZARDS, "VARCHAR"),
        **dict.fromkeys(_COUNTS, "INTEGER"),
        "level": "VARCHAR",
        "packs": "VARCHAR",
        "softer": "INTEGER",
        "not_powered": "BOOLEAN",
        "problems": "VARCHAR",
        "holds_from": "DATE",
        "holds_to": "DATE",
        "trail": "VARCHAR",
        "options": "VARCHAR",
        "version": "VARCHAR",
        "program": "VARCHAR",
        "duration": "DOUBLE",
        "worker": "VARCHAR",
    },
    "finding": {
        "result": "INTEGER",
        **{
            one: {"stress": _FOUR, "limit": _FOUR, "ratio": "DOUBLE", "blocks": "BOOLEAN"}.get(one, "VARCHAR")
            for one in FindingRow._fields
        },
    },
    "part": {"result": "INTEGER", **dict.fromkeys(PartRow._fields, "VARCHAR")},
    "study": {
        "result": "INTEGER",
        "study": "VARCHAR",
        "day": "DATE",
        "outcome": "VARCHAR",
        "problems": "VARCHAR",
        "stopped": "BOOLEAN",
        "duration": "DOUBLE",
        "worker": "VARCHAR",
    },
    "headroom": {**_OF_A_STUDY, **_columns(EndRow._fields, {"rated": _NUMBER, "end": _NUMBER, "open": "BOOLEAN"})},
    "cure": {**_OF_A_STUDY, **_columns(CureRow._fields, {"least": _FOUR})},
    "spread": {
        **_OF_A_STUDY,
        **_columns(
            SpreadRow._fields,
            {
                **dict.fromkeys(("stress", "limit"), _FOUR),
                **dict.fromkeys(("nominal", "root_low", "root_high", "mean", "sigma"), _NUMBER),
                **dict.fromkeys(("share_low", "share_high", "driver_share"), _NUMBER),
                **dict.fromkeys(("draws", "beyond", "outside"), "INTEGER"),
                "safety": "BOOLEAN",
            },
        ),
    },
}
_AS_IT_IS = "ended IS NOT NULL AND what = ''"
_STUDIES = ("study", "headroom", "cure", "spread")
# One table of results per run, for whoever opens the store with a client of their own; and what is written out.
RESULTS = """\
SELECT j.run, r.design, r.name, r.revision, f.rule, f.pack, f.hazard, f.severity, f.subject_kind, f.subject,
  f.case_group, f."at", f.verdict,
  f.stress[1] AS stress_low, f.stress[2] AS stress_near, f.stress[3] AS stress_far, f.stress[4] AS stress_high,
  f."limit"[1] AS limit_low, f."limit"[2] AS limit_near, f."limit"[3] AS limit_far, f."limit"[4] AS limit_high,
  f.unit, f.ratio, f.rests_on, f.missing, f.source, f.confidence, f.blocks, f.signed,
  r.outcome, r.problems, r.packs, r.version, r.duration, r.worker
FROM judged j JOIN result r USING (result) LEFT JOIN finding f USING (result)"""
_STUDIED = """\
SELECT j.run, r.design, r.name, r.revision, s.study, s.outcome, s.problems, s.stopped, {columns}, r.packs, r.version,
  s.duration, s.worker
FROM judged j JOIN result r USING (result) JOIN study s USING (result)
  LEFT JOIN {table} e ON e.result = s.result AND e.study = s.study"""
_ENDS = ("low", "near", "far", "high")


def _read(table: str, names: Sequence[str]) -> str:
    """The rows of a study beside their design, each value as four columns."""
    columns = [
        f'e."{one}"[{at}] AS {one}_{end}' if TABLES[table][one] == _FOUR else f'e."{one}"'
        for one in names
        for at, end in (enumerate(_ENDS, 1) if TABLES[table][one] == _FOUR else ((0, ""),))
    ]
    return _STUDIED.format(table=table, columns=", ".join(columns))


# The same for studies: which table, its query, the columns that hold what somebody wrote, and the order of its rows.
HEADROOMS = _read("headroom", EndRow._fields) + " WHERE s.study = 'headroom'"
SPREADS = _read("spread", SpreadRow._fields) + " WHERE s.study LIKE 'spread, %'"
VIEWS = {"results": RESULTS, "headrooms": HEADROOMS, "spreads": SPREADS}
# What differs from machine to machine, and is left out where two tables are held beside each other.
OF_THE_MACHINE = ("duration", "worker")
_ORDER = "x.design, x.rule, x.pack, x.subject_kind, x.subject"
# What somebody wrote, which no spreadsheet is to take for a formula.
_SAID = ("design", "name", "subject", '"at"', "rests_on", "missing", "source", "problems")
_NO_FORMULA = "CASE WHEN regexp_matches(x.{0}, '^ *[=+@-]') THEN chr(39) || x.{0} ELSE x.{0} END"


class Standing(NamedTuple):
    """The newest result of a design under the same options and the same program."""

    result: int
    outcome: str
    problems: str
    holds_from: date | None
    holds_to: date | None
    trail: str


class Run(NamedTuple):
    """One run of the store."""

    run: int
    what: str
    day: date
    version: str
    ended: datetime | None
    designs: int


class Store:
    """An open store. Use it in a `with`."""

    def __init__(self, path: str, writes: Sequence[str] = ()) -> None:
        """Open a store, or make one. writes: the files beside it that will be written. Raises ReadingError."""
        try:
            import duckdb
        except ImportError:
            raise refused(
                "an archive is kept in a store of DuckDB, which is not installed here", "pip install 'derate[archive]'"
            ) from None
        self.path = path
        self._error = duckdb.Error
        fresh = _may_be_opened(path)
        self._writes = tuple(writes)
        self._db = self._connect(MOST_WHILE_WRITING)
        try:
            if fresh:
                self._make()
            else:
                self._check()
        except BaseException:
            self._db.close()
            raise

    def _connect(self, most: str | None) -> Any:
        """most: of what is in the store may be held in memory at once, None for what the machine has"""
        import duckdb

        settings: dict[str, str | bool | int | float | list[str]] = {
            "autoload_known_extensions": "false",
            "autoinstall_known_extensions": "false",
        }
        if most is not None:
            settings["memory_limit"] = most
        try:
            db = duckdb.connect(self.path, config=settings)
            db.execute(f"SET allowed_paths = [{', '.join(quoted(one) for one in self._writes)}]")
            db.execute("SET enable_external_access = false")
            db.execute("SET lock_configuration = true")
        except duckdb.Error as error:
            raise _unusable(self.path, error) from None
        return db

    def written(self) -> None:
        """All is written that will be: what is asked from here on may take what memory the machine has."""
        self._db.close()
        self._db = self._connect(None)

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._db.close()

    def _make(self) -> None:
        with _Whole(self):
            for table, columns in TABLES.items():
                written = ", ".join(f'"{name}" {kind}' for name, kind in columns.items())
                self._do(f"CREATE TABLE {table} ({written})")
            self._do(f"INSERT INTO form VALUES ({FORM})")
            for view, sql in VIEWS.items():
                self._do(f"CREATE VIEW {view} AS {sql}")

    def _check(self) -> None:
        """The tables are those that are written here, and tables. Raises ReadingError."""
        try:
            found: dict[str, dict[str, str]] = {}
            for table, name, kind in self.rows(
                "SELECT table_name, column_name, data_type FROM information_schema.columns "
                "JOIN information_schema.tables USING (table_catalog, table_schema, table_name) "
                "WHERE table_type = 'BASE TABLE' "
                "AND table_schema = 'main' AND table_catalog = current_database() ORDER BY ordinal_position"
            ):
                found.setdefault(table, {})[name] = kind
            form = self.rows("SELECT form FROM form") if found.get("form") == TABLES["form"] else []
        except ReadingError:
            form = []
        if len(form) == 1 and isinstance(form[0][0], int) and form[0][0] != FORM:
            raise ReadingError([Problem(Place(self.path), _of_another(form[0][0]), _ANEW)])
        if form != [(FORM,)] or found != TABLES:
            raise ReadingError([Problem(Place(self.path), "this is no store of an archive of this version", _ANOTHER)])

    # ---- asking

    def rows(self, sql: str, given: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """The rows of a query. Raises ReadingError."""
        return self._do(sql, given).fetchall()  # type: ignore[no-any-return]

    def table(self, sql: str) -> tuple[tuple[str, ...], list[tuple[Any, ...]]]:
        """Names of the columns and the rows of a query. Raises ReadingError."""
        done = self._do(sql)
        return tuple(one[0] for one in done.description), done.fetchall()

    def runs(self, ended: bool = True) -> tuple[Run, ...]:
        """Every run, those that came to their end alone where asked for, the first first."""
        where = "WHERE ended IS NOT NULL" if ended else ""
        counted = "(SELECT count(*) FROM judged j WHERE j.run = run.run)"
        sql = f"SELECT run, what, day, version, ended, {counted} FROM run {where} ORDER BY run"
        return tuple(Run(*row) for row in self.rows(sql))

    def last(self, options: str) -> tuple[int, str] | None:
        """The newest run of the archive as it is under these options, with the digest of the program that judged it."""
        sql = f"SELECT run, program FROM run WHERE {_AS_IT_IS} AND options = ? ORDER BY run DESC LIMIT 1"
        return next(((int(run), str(made)) for run, made in self.rows(sql, (options,))), None)

    def alike(self, run: int) -> list[int]:
        """The runs of the archive as it is that were judged by the gate of a run, the newest first."""
        sql = f"SELECT run FROM run WHERE {_AS_IT_IS} AND options = (SELECT options FROM run WHERE run = ?)"
        return [int(one) for (one,) in self.rows(f"{sql} ORDER BY run DESC", (run,))]

    def ended(self, run: int, day: date) -> int:
        """How many designs of a run have a result that does not hold on a day: a signature begins or ends between."""
        sql = (
            "SELECT count(*) FROM judged JOIN result USING (result) WHERE run = ? "
            "AND (coalesce(? < holds_from, false) OR coalesce(? > holds_to, false))"
        )
        return int(self.rows(sql, (run, day, day))[0][0])

    def touched(self, run: int, trial: int, whatever: bool) -> tuple[int, int]:
        """In how many designs a trial set anything otherwise than a run has it, and how many the run has.

        whatever: each that was judged again counts, else only those that were judged by other packs
        """
        sql = (
            "SELECT count(*) FILTER (n.result <> o.result AND (? OR n.packs <> o.packs)), count(*) "
            "FROM judged a JOIN result o ON o.result = a.result "
            "LEFT JOIN judged b ON b.design = a.design AND b.run = ? LEFT JOIN result n ON n.result = b.result "
            "WHERE a.run = ?"
        )
        some, many = self.rows(sql, (whatever, trial, run))[0]
        return int(some), int(many)

    def with_part(self, run: int, name: str) -> int:
        """How many designs of a run have a part of that name, type or marking."""
        sql = (
            "SELECT count(DISTINCT design) FROM judged JOIN part USING (result) WHERE run = ? "
            "AND (part = ? OR lower(?) IN (lower(type), lower(marking)))"
        )
        return int(self.rows(sql, (run, name, name))[0][0])

    def _do(self, sql: str, given: Sequence[Any] = ()) -> Any:
        try:
            return self._db.execute(sql, list(given))
        except self._error as error:
            raise _unusable(self.path, error) from None

    # ---- writing

    def begin(self, what: str, options: str, day: date, version: str, program: str) -> tuple[int, bool]:
        """The number of a run, and whether it goes on with one that was interrupted: the newest of the same kind."""
        open_ones = self.rows(
            "SELECT run FROM run WHERE ended IS NULL AND what = ? AND options = ? AND day = ? AND program = ? "
            "ORDER BY run DESC LIMIT 1",
            (what, options, day, program),
        )
        if open_ones:
            return int(open_ones[0][0]), True
        run = int(self.rows("SELECT coalesce(max(run), 0) + 1 FROM run")[0][0])
        self._do(
            "INSERT INTO run VALUES (?, ?, ?, ?, ?, ?, ?, NULL)",
            (run, what, options, day, version, program, datetime.now().replace(microsecond=0)),
        )
        return run, False

    def end(self, run: int) -> None:
        """The run came to its end."""
        self._do("UPDATE run SET ended = ? WHERE run = ?", (datetime.now().replace(microsecond=0), run))

    def forget(self, run: int) -> None:
        """Take a run out; results stay."""
        with _Whole(self):
            self._do("DELETE FROM judged WHERE run = ?", (run,))
            self._do("DELETE FROM run WHERE run = ?", (run,))

    def standing(self, designs: Sequence[str], options: str, program: str) -> dict[str, Standing]:
        """The newest result of each of some designs under the same options and the same program."""
        rows = self.rows(
            "SELECT design, result, outcome, problems, holds_from, holds_to, trail FROM result "
            "WHERE design IN (SELECT unnest(?::VARCHAR[])) AND options = ? AND program = ? "
            "QUALIFY row_number() OVER (PARTITION BY design ORDER BY result DESC) = 1",
            ([*designs], options, program),
        )
        return {design: Standing(*rest) for design, *rest in rows}

    def link(self, run: int, pairs: Sequence[tuple[str, int]]) -> None:
        """These designs have these results in a run, whatever they had in it before."""
        if pairs:
            with _Whole(self):
                self._link(run, pairs)

    def _link(self, run: int, pairs: Sequence[tuple[str, int]]) -> None:
        designs, results = [design for design, _ in pairs], [result for _, result in pairs]
        self._do("DELETE FROM judged WHERE run = ? AND design IN (SELECT unnest(?::VARCHAR[]))", (run, designs))
        self._do("INSERT INTO judged SELECT ?, unnest(?::VARCHAR[]), unnest(?::INTEGER[])", (run, designs, results))

    def add(self, run: int, judged: Sequence[Judged], options: str, version: str, program: str) -> None:
        """Keep what designs came to, and that they came to it in a run; all of it or nothing."""
        if not judged:
            return
        with _Whole(self):
            first = int(self.rows("SELECT coalesce(max(result), 0) + 1 FROM result")[0][0])
            numbered = list(enumerate(judged, first))
            self._insert("result", [_result(number, one, options, version, program) for number, one in numbered])
            self._insert("finding", [(number, *row) for number, one in numbered for row in one.findings])
            self._insert("part", [(number, *row) for number, one in numbered for row in one.parts])
            self._link(run, [(one.design, number) for number, one in numbered])

    def _insert(self, table: str, rows: list[tuple[Any, ...]]) -> None:
        if rows:
            kinds = TABLES[table].values()
            given = [_given(kind, column) for kind, column in zip(kinds, zip(*rows, strict=True), strict=True)]
            columns = ", ".join(f"unnest({how})" for how, _ in given)
            self._do(f"INSERT INTO {table} SELECT {columns}", [column for _, column in given])

    def results_of(self, run: int, designs: Sequence[str]) -> list[tuple[str, int]]:
        """The results of some designs in a run."""
        sql = "SELECT design, result FROM judged WHERE run = ? AND design IN (SELECT unnest(?::VARCHAR[]))"
        return [(design, result) for design, result in self.rows(sql, (run, [*designs]))]

    def keep_only(self, run: int, designs: Sequence[str]) -> None:
        """What is in a run and no design any more is taken out of it."""
        self._do("DELETE FROM judged WHERE run = ? AND design NOT IN (SELECT unnest(?::VARCHAR[]))", (run, [*designs]))

    def same_as(self, run: int) -> int | None:
        """The newest earlier run of the same kind that came to its end with the same results, None without one."""
        found = self.rows(
            "SELECT o.run FROM run o, run n WHERE n.run = ? AND o.run < n.run AND o.ended IS NOT NULL "
            "AND o.what = n.what AND o.options = n.options AND o.program = n.program ORDER BY o.run DESC LIMIT 1",
            (run,),
        )
        if not found:
            return None
        other = int(found[0][0])
        apart = self.rows(
            "SELECT count(*) FROM (SELECT design, result FROM judged WHERE run = ?) a "
            "FULL JOIN (SELECT design, result FROM judged WHERE run = ?) b USING (design, result) "
            "WHERE a.design IS NULL OR b.design IS NULL",
            (run, other),
        )
        return other if apart[0][0] == 0 else None

    # ---- studies

    def unstudied(self, run: int, study: str) -> dict[str, tuple[int, str]]:
        """Result and trail of every judged design of a run whose study is not there, or could not be made."""
        rows = self.rows(
            "SELECT r.design, r.result, r.trail FROM judged j JOIN result r USING (result) WHERE j.run = ? "
            "AND r.outcome = 'judged' AND r.result NOT IN "
            "(SELECT result FROM study WHERE study = ? AND outcome = 'judged')",
            (run, study),
        )
        return {design: (result, trail) for design, result, trail in rows}

    def studied(self, run: int, study: str) -> int:
        """How many designs of a run have a study."""
        sql = "SELECT count(*) FROM judged JOIN study USING (result) WHERE run = ? AND study = ? AND outcome = 'judged'"
        return int(self.rows(sql, (run, study))[0][0])

    def add_studies(self, study: str, day: date, made: Sequence[tuple[int, Judged]]) -> None:
        """Keep studies of results, in place of what was there of them; all of it or nothing."""
        if not made:
            return
        with _Whole(self):
            results = [result for result, _ in made]
            for table in _STUDIES:
                self._do(
                    f"DELETE FROM {table} WHERE study = ? AND result IN (SELECT unnest(?::INTEGER[]))", (study, results)
                )
            rows = [(result, one, one.studied) for result, one in made]
            self._insert(
                "study",
                [
                    (result, study, day, one.outcome, one.problems, bool(own and own.stopped), one.duration, one.worker)
                    for result, one, own in rows
                ],
            )
            whole = [(result, own) for result, _, own in rows if own is not None]
            self._insert("headroom", [(result, study, *row) for result, own in whole for row in own.ends])
            self._insert("cure", [(result, study, *row) for result, own in whole for row in own.cures])
            self._insert("spread", [(result, study, *row) for result, own in whole for row in own.spread])

    # ---- writing out

    def write(self, run: int, path: str, beside: str, form: str) -> None:
        """The results of a run as a file of its own, sorted: 'csv' or 'parquet'. beside: named when it was opened."""
        self.write_out(f"SELECT * FROM ({RESULTS}) x WHERE x.run = {run:d}", _SAID, _ORDER, path, beside, form)

    def write_study(self, run: int, study: str, path: str, beside: str, form: str) -> None:
        """The rows of a study of a run as a file of its own; which study by its key."""
        said = ["design", "name", "subject", "problems"]
        if study == "headroom":
            view, order = "headrooms", "x.design, x.axis"
            said += ["why"]
        else:
            view, order = "spreads", "x.design, x.rule, x.subject_kind, x.subject"
            said += ['"at"', "driver", "undrawn"]
        sql = f"SELECT * FROM ({VIEWS[view]}) v WHERE v.run = {run:d} AND v.study = {quoted(study)}"
        self.write_out(sql, said, order, path, beside, form)

    def write_out(self, sql: str, said: Sequence[str], order: str, path: str, beside: str, form: str) -> None:
        """The rows of a query as a file of its own. said: columns that hold what somebody wrote"""
        may_be_written(path)
        how = "FORMAT parquet, COMPRESSION zstd" if form == "parquet" else "FORMAT csv, HEADER"
        harmless = ", ".join(f"{_NO_FORMULA.format(one)} AS {one}" for one in said)
        chosen = f"x.* REPLACE ({harmless})" if form == "csv" else "x.*"
        query = f"SELECT {chosen} FROM ({sql}) x ORDER BY {order}"
        try:
            self._do(f"COPY ({query}) TO {quoted(beside)} ({how})")
            os.replace(beside, path)
        finally:
            if os.path.lexists(beside):
                os.unlink(beside)


class _Whole:
    """A transaction: all of it or nothing."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def __enter__(self) -> None:
        self._store._do("BEGIN")

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._store._do("COMMIT" if kind is None else "ROLLBACK")


def _given(kind: str, column: Sequence[Any]) -> tuple[str, Any]:
    """A column of rows as it is handed over, and how it is read there.

    As one text of JSON it takes half the time of a list, whose every item is looked at from Python; an infinite number
    and a day have no JSON, and go as they are.
    """
    form = _JSON.get(kind)
    if form is not None:
        try:
            return f"from_json(?, '{form}')::{kind}[]", json.dumps(column, ensure_ascii=False, allow_nan=False)
        except ValueError:
            pass
    return f"?::{kind}[]", [*column]


_JSON = {
    "VARCHAR": '["VARCHAR"]',
    "INTEGER": '["INTEGER"]',
    "BOOLEAN": '["BOOLEAN"]',
    _NUMBER: '["DOUBLE"]',
    _FOUR: '[["DOUBLE"]]',
}


def _result(number: int, one: Judged, options: str, version: str, program: str) -> tuple[Any, ...]:
    last = (options, version, program, one.duration, one.worker)
    return (
        number,
        one.design,
        one.outcome,
        one.name,
        one.revision,
        one.overall,
        one.blocks,
        one.held_back,
        *one.hazards,
        *one.counts,
        one.level,
        one.packs,
        one.softer,
        one.not_powered,
        one.problems,
        one.holds_from,
        one.holds_to,
        one.trail,
        *last,
    )


def quoted(text: str) -> str:
    """A text as it stands in SQL."""
    return "'" + text.replace("'", "''") + "'"


_ANOTHER = "name another file with --store"
_ANEW = (
    "name another file with --store, or move this one away, and judge the archive again; any client of DuckDB still "
    "reads its view `results`"
)


def _of_another(form: int) -> str:
    age = "an older" if form < FORM else "a newer"
    return f"this store was written by {age} version of derate (its form is {form:d}, and this version writes {FORM:d})"


def _may_be_opened(path: str) -> bool:
    """Whether there is no such file yet. Raises ReadingError where one may not be opened, or none be made."""
    try:
        about = os.lstat(path)
    except FileNotFoundError:
        if not Path(path).resolve().parent.is_dir():
            raise ReadingError([Problem(Place(path), "there is no such folder", _ANOTHER)]) from None
        return True
    except (OSError, ValueError):
        raise ReadingError([Problem(Place(path), "this cannot be a store", _ANOTHER)]) from None
    if stat.S_ISLNK(about.st_mode):
        raise ReadingError([Problem(Place(path), "this is a link, and no store is kept behind one", _ANOTHER)])
    open_ordinary(path).close()
    return about.st_size == 0


def _unusable(path: str, error: Exception) -> ReadingError:
    why = " ".join(str(error).split())[:200]
    return ReadingError([Problem(Place(path), f"this store cannot be used ({why})", _ANOTHER)])


def refused(what: str, instead: str) -> ReadingError:
    """An error of the command line."""
    return ReadingError([Problem(Place("command line"), what, instead)])
