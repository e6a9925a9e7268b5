"""What can be asked of an archive, each as one query over its store: the text that `--verbose` prints is what is run.

Figures are in SI base units. A column of four numbers is a value, low ≤ near ≤ far ≤ high; beside it stands its unit.
"""

from __future__ import annotations

from typing import NamedTuple

from derate.archive.store import quoted
from derate.terms.words import HAZARDS, HEAVY, HOLDS, NOT_SHOWN, OVERALLS, VERDICTS

MOST = 200  # rows of a table on a screen, unless more are asked for
_OF = "FROM judged j JOIN result r USING (result)"
_BY_WORD = ", ".join(f'count(*) FILTER (r.overall = {quoted(one)}) AS "{one}"' for one in OVERALLS)


class Question(NamedTuple):
    """A title and its query."""

    title: str
    sql: str


def of_part(run: int, part: str, most: int) -> Question:
    """Which designs use a part, and how near to their limits: named by its type, its marking, kind or name."""
    said = quoted(part.casefold())
    return Question(
        f"designs that use {part}, the nearest to a limit first",
        f"""\
SELECT r.design, p.part, p.type, p.kind, p.marking, p.place, f.rule, f.verdict, f.stress, f."limit", f.unit, f.ratio
{_OF} JOIN part p USING (result)
  LEFT JOIN finding f ON f.result = j.result AND f.part = p.part AND f.ratio IS NOT NULL
WHERE j.run = {run:d} AND {said} IN (lower(p.type), lower(p.marking), lower(p.kind), lower(p.part))
QUALIFY row_number() OVER (PARTITION BY r.design, p.part ORDER BY f.ratio DESC NULLS LAST, f.rule) = 1
ORDER BY f.ratio DESC NULLS LAST, r.design, p.part
LIMIT {most:d}""",
    )


def worst_by_rule(run: int, most: int) -> Question:
    """The worst ratio of every rule where it came to a word, on what, and how many designs came to which verdict."""
    counts = ", ".join(
        f"count(DISTINCT r.design) FILTER (f.verdict = {quoted(one)}) AS {one.replace(' ', '_')}"
        for one in VERDICTS
        if one != "not applicable"
    )
    known = "f.verdict <> 'not assessed'"  # whose ratio is one of what might be
    return Question(
        "worst ratio by rule",
        f"""\
SELECT f.rule, f.pack, f.severity, max(f.ratio) FILTER ({known}) AS worst,
  arg_max(r.design, f.ratio) FILTER ({known}) AS design, arg_max(f.subject, f.ratio) FILTER ({known}) AS subject,
  {counts}
{_OF} JOIN finding f USING (result)
WHERE j.run = {run:d}
GROUP BY f.rule, f.pack, f.severity
HAVING count(f.ratio) FILTER ({known}) > 0
ORDER BY worst DESC, f.rule
LIMIT {most:d}""",
    )


def nearest(run: int, most: int = 20) -> Question:
    """What holds its limit and is the nearest to it, of critical and major rules; numbers of things are left out."""
    return Question(
        f"the {most:d} nearest to a limit that hold it",
        f"""\
SELECT r.design, f.rule, f.subject, f.severity, f.verdict, f.stress, f."limit", f.unit, f.ratio
{_OF} JOIN finding f USING (result)
WHERE j.run = {run:d} AND f.verdict IN ({_words(HOLDS)}) AND f.severity IN ({_words(HEAVY)}) AND f.unit <> ''
  AND f.ratio IS NOT NULL
ORDER BY f.ratio DESC, r.design, f.rule, f.subject
LIMIT {most:d}""",
    )


def moved(before: int, after: int, most: int) -> Question:
    """Verdicts that are others in a later run, and designs that can or cannot be read since; what got worse first.

    A finding that one of the two does not have is told where the other has not shown that it holds.
    """
    rank = " ".join(f"WHEN {quoted(one)} THEN {number:d}" for number, one in enumerate(reversed(VERDICTS)))
    return Question(
        f"verdicts that moved from run {before:d} to run {after:d}, what got worse first",
        f"""\
WITH apart AS (
  SELECT coalesce(a.design, b.design) AS design, a.result AS before, b.result AS after
  FROM (SELECT * FROM judged WHERE run = {before:d}) a FULL JOIN (SELECT * FROM judged WHERE run = {after:d}) b
    USING (design)
  WHERE a.result IS DISTINCT FROM b.result),
old AS (SELECT d.design, f.* FROM apart d JOIN finding f ON f.result = d.before),
new AS (SELECT d.design, f.* FROM apart d JOIN finding f ON f.result = d.after),
verdicts AS (
  SELECT coalesce(n.design, o.design) AS design, coalesce(n.rule, o.rule) AS rule,
    coalesce(n.subject, o.subject) AS subject, coalesce(n.severity, o.severity) AS severity,
    o.verdict AS before, n.verdict AS after, o.ratio AS ratio_before, n.ratio AS ratio_after,
    coalesce(n.blocks, false) AS blocks
  FROM old o FULL JOIN new n ON o.design = n.design AND o.rule = n.rule AND o.pack = n.pack
    AND o.subject_kind = n.subject_kind AND o.subject = n.subject
  WHERE o.verdict IS DISTINCT FROM n.verdict
    AND (o.verdict IS NOT NULL OR n.verdict IN ({_words(NOT_SHOWN)}))
    AND (n.verdict IS NOT NULL OR o.verdict IN ({_words(NOT_SHOWN)}))),
designs AS (
  SELECT d.design, '' AS rule, 'the design' AS subject, '' AS severity,
    coalesce(o.outcome, 'not there') AS before, coalesce(n.outcome, 'not there') AS after,
    NULL AS ratio_before, NULL AS ratio_after, coalesce(n.outcome, '') = 'unread' AS blocks
  FROM apart d LEFT JOIN result o ON o.result = d.before LEFT JOIN result n ON n.result = d.after
  WHERE o.outcome IS DISTINCT FROM n.outcome)
SELECT * FROM (
  SELECT * FROM designs UNION ALL
  -- of a design that only one of the two could read nothing else is told
  SELECT v.* FROM verdicts v WHERE v.design NOT IN (SELECT design FROM designs))
ORDER BY (CASE after {rank} ELSE 9 END) - (CASE before {rank} ELSE 0 END) DESC,
  blocks DESC, ratio_after DESC NULLS LAST, design, rule, subject
LIMIT {most:d}""",
    )


def overview(run: int) -> Question:
    """How many designs came to each overall word, and how many findings block."""
    return Question(
        "designs by overall word",
        f"""\
SELECT count(*) AS designs, {_BY_WORD}, count(*) FILTER (r.outcome = 'unread') AS unread,
  count(*) FILTER (r.blocks > 0) AS blocked, coalesce(sum(r.blocks), 0)::BIGINT AS blocking
{_OF}
WHERE j.run = {run:d}""",
    )


def designs(run: int) -> Question:
    """One row a design, by name: what the page of the archive shows."""
    hazards = ", ".join(f"r.{one}" for one in HAZARDS)
    return Question(
        "designs",
        f"""\
SELECT r.design, r.name, r.revision, r.outcome, r.overall, {hazards}, r.blocks, r.held_back, r.fail, r.not_assessed,
  r.marginal, r.softer, r.not_powered, r.problems, (
    SELECT max(f.ratio) FROM finding f WHERE f.result = r.result AND f.verdict IN ({_words(HOLDS)})) AS nearest
{_OF}
WHERE j.run = {run:d}
ORDER BY r.design""",
    )


def trend(run: int, most: int = 60, every: bool = False) -> Question:
    """The newest runs of the archive as it is: designs by overall word, and how many findings block.

    Those that were judged by the gate of one run; every: the others too, told apart by a column
    """
    same = f"u.options = (SELECT options FROM run WHERE run = {run:d})"
    told = f", CASE WHEN {same} THEN 'that of run {run:d}' ELSE 'another' END AS gate" if every else ""
    only = "" if every else f" AND {same}"
    return Question(
        "runs",
        f"""\
SELECT * FROM (
  SELECT u.run, u.day, u.version{told}, count(r.result) AS designs, {_BY_WORD},
    count(*) FILTER (r.outcome = 'unread') AS unread, coalesce(sum(r.blocks), 0)::BIGINT AS blocking
  FROM run u LEFT JOIN judged j ON j.run = u.run LEFT JOIN result r ON r.result = j.result
  WHERE u.ended IS NOT NULL AND u.what = ''{only}
  GROUP BY u.run, u.day, u.version, u.options ORDER BY u.run DESC LIMIT {most:d})
ORDER BY run""",
    )


def headroom(run: int, study: str, most: int) -> Question:
    """How far each design may be taken on each axis beyond its rated point, the least first."""
    room = """abs(e."end" - e.rated) / CASE e.unit WHEN 'degC' THEN 1 ELSE greatest(abs(e.rated), 1e-12) END"""
    return Question(
        "headroom of each design, the least first on each axis",
        f"""\
SELECT r.design, e.axis, CASE WHEN e.rated IS NOT NULL THEN [e.rated, e.rated, e.rated, e.rated] END AS rated,
  CASE WHEN e."end" IS NOT NULL THEN [e."end", e."end", e."end", e."end"] END AS "end", e.unit,
  e.open AS nothing_stops_it, e.rule, e.subject, e.why, s.stopped
{_OF} JOIN study s USING (result) JOIN headroom e ON e.result = s.result AND e.study = s.study
WHERE j.run = {run:d} AND s.study = {quoted(study)}
ORDER BY e.axis, e.open, {room} NULLS FIRST, r.design
LIMIT {most:d}""",
    )


def cures(run: int, study: str, most: int) -> Question:
    """The least ratings that cure failing rules."""
    return Question(
        "least ratings that cure a failing rule",
        f"""\
SELECT r.design, c.rule, c.subject, c.quantity, c."least", c.unit
{_OF} JOIN cure c USING (result)
WHERE j.run = {run:d} AND c.study = {quoted(study)}
ORDER BY r.design, c.rule, c.subject, c.quantity
LIMIT {most:d}""",
    )


def spread(run: int, study: str, most: int) -> Question:
    """What tolerance does to what is held by a critical or major rule: the greatest share beyond its limit first.

    A limit of safety is held at its extreme value alone, has no share, and stands last by its name.
    """
    return Question(
        "what tolerance does, the greatest share of draws beyond a limit first (95 % interval)",
        f"""\
SELECT r.design, e.rule, e.subject, e.severity, e.verdict, e.stress, e."limit", e.unit, e.safety, e.share_low,
  e.share_high, e.driver, e.driver_share, e.undrawn
{_OF} JOIN spread e USING (result)
WHERE j.run = {run:d} AND e.study = {quoted(study)}
ORDER BY e.share_high DESC NULLS LAST, e.share_low DESC, r.design, e.rule, e.subject
LIMIT {most:d}""",
    )


def _words(words: tuple[str, ...]) -> str:
    return ", ".join(map(quoted, words))
