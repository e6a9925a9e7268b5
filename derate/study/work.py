"""One way through: a design from its file over its ledger to its review, the steps in their order."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TypeVar

from derate.design.facts import facts
from derate.design.load import Design, load_design
from derate.design.settings import Below, OpenPointRecord, Settings, WaiverRecord, find_settings
from derate.insulation.requirements import Context, require
from derate.judge.acknowledge import KnownRecord, Limits, OpenPoint, Waiver, too_far
from derate.judge.gate import Chosen, gate_of, standing_families
from derate.judge.heard import ASKED
from derate.judge.judge import judge
from derate.judge.review import Gate, Less, Review, Used
from derate.judge.verdict import family_words, finding_blocks, hazard_words, worst_word
from derate.ledger.entry import Entry
from derate.ledger.ledger import Ledger, Model
from derate.packs.load import Packs, find_pack, load_packs, repository, shipped
from derate.run import run
from derate.terms.topologies import TOPOLOGIES
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, ReadingError, nearest
from derate.terms.words import Hazard, Level
from derate.text.nodes import Mapping as MappingNode
from derate.text.nodes import Scalar

# One way through: a design from its file over its ledger to its review, the steps in their order.
#
# `Workshop` reads packs and settings once however many designs ask for them; `worked` and `review_of` are what every
# caller that varies facts runs again. Nothing heavy is imported here: this is the path of `derate lint`.


COMMAND_LINE = Place("command line")
DEFAULT_PACKS = ("commercial-practice", "mains-fusing", "insulation-it-equipment")
# Packs whose absence is never silent, with the hazards they cover; and one insulation family has to be there.
REQUIRED: dict[str, tuple[Hazard, ...]] = {"commercial-practice": ("overstress",), "mains-fusing": ("fire",)}
INSULATION: dict[str, tuple[Hazard, ...]] = {"insulation-it-equipment": ("fire", "shock")}  # or any other family
MOST_ASKED = 160_000  # rules times parts, windings and barriers
_T = TypeVar("_T")
_RULE = re.compile(r"^\s*- rule:\s*([a-z0-9-]+)\s*$", re.MULTILINE)


class Work(NamedTuple):
    """A design with everything that was worked out from it.

    packs_from: who chose the packs, none for the shipped ones
    shipped_gate: judged by shipped packs and level alone, so that nothing anybody signed for counts
    """

    design: Design
    settings: Settings
    packs: Packs
    ledger: Ledger
    required: Mapping[str, Sequence[Hazard]] = REQUIRED
    packs_from: tuple[str, ...] = ()
    shipped_gate: bool = False

    @property
    def read(self) -> tuple[str, ...]:
        """Every file it was made from: the design and what it revises, settings, packs."""
        return (*self.design.texts, *self.settings.paths, *(head.path for head in self.packs.heads))


class Workshop:
    """Works through designs; packs and settings are read once however many designs ask for them.

    ledger: makes the empty ledger of each design; a study that runs it again has one that remembers
    change: what else is to be read of each design than stands in its file
    besides: packs added to its own, each with those that it is added beside alone; none: beside any
    """

    def __init__(
        self,
        packs: Sequence[str] = (),
        shipped_gate: bool = False,
        ledger: Callable[[], Ledger] = Ledger,
        change: Callable[[MappingNode], MappingNode] | None = None,
        besides: Sequence[tuple[str, frozenset[str]]] = (),
    ) -> None:
        self.asked = tuple(packs)
        self.shipped_gate = shipped_gate
        self._ledger = ledger
        self._change = change
        self._besides = tuple(besides)
        self._packs: dict[tuple[str, ...], Packs] = {}

    def work(self, path: str) -> Work:
        """Read a design and work out its stresses. Raises ReadingError."""
        if self.shipped_gate:
            return self._shipped(load_design(path, self._change))
        problems: list[Problem] = []
        settings = _tried(lambda: find_settings(path), problems)
        design = _tried(lambda: load_design(path, self._change), problems)
        if design is None or settings is None:
            raise ReadingError(problems)
        return self.worked(path, design, settings)

    def worked(self, path: str, design: Design, settings: Settings) -> Work:
        """Work out the stresses of a design that was read. Raises ReadingError."""
        packs = self.packs_for(path, design, settings)
        _not_too_much(design, packs)
        if not self.asked:  # whoever names packs on the command line may have left out those that the file signs for
            _known_rules(design, packs)
        # Whoever names packs on the command line has chosen the gate; a file or a folder cannot leave one out unseen.
        required: Mapping[str, Sequence[Hazard]] = {} if self.asked else required_of(packs)
        ledger = worked(design, packs, into=self._ledger())
        return Work(design, settings, packs, ledger, required, self._chosen_by(design, settings))

    def _shipped(self, design: Design) -> Work:
        """Judged by the shipped packs and the shipped level, whatever the tree and the design say."""
        names = (*DEFAULT_PACKS, *_brought(design))
        packs = self._loaded(tuple(str(find_pack(name, None, COMMAND_LINE)) for name in names))
        return Work(design, Settings(), packs, worked(design, packs), required_of(packs), shipped_gate=True)

    def _chosen_by(self, design: Design, settings: Settings) -> tuple[str, ...]:
        if self.asked:
            return (COMMAND_LINE.path,)
        said = [(settings.path, settings.packs), (design.path, design.file.packs)]
        return tuple(path for path, packs in said if packs)

    def packs_for(self, path: str, design: Design | None, settings: Settings) -> Packs:
        """The packs of the command line; else those of the settings and of the design together; else the default.

        Packs of settings below the root are added to those, and may make nothing softer. Raises ReadingError.
        """
        problems: list[Problem] = []
        paths: dict[str, None] = {}

        def add(name: str, near: Path | None, place: Place) -> None:
            found = _tried(lambda: find_pack(name, near, place), problems)
            if found is not None:
                paths[str(found)] = None

        own = tuple(design.file.packs or ()) if design is not None else ()
        for name in self.asked:
            add(name, None if _is_path(name) else Path(path), COMMAND_LINE)
        if not self.asked:
            for scalar in settings.packs:
                add(scalar.text, Path(settings.path), scalar.start)
            for name in own:
                add(name, Path(path), _named_at(name, design))
        if not self.asked and not settings.packs and not own:
            for name in DEFAULT_PACKS:
                add(name, None, COMMAND_LINE)
        for name in _brought(design) if not self.asked else ():
            add(name, None, COMMAND_LINE)
        for name, only in self._besides:
            if not only or only <= {*self._loaded(tuple(paths)).names}:
                add(name, None if _is_path(name) else Path(path), COMMAND_LINE)
        above = tuple(paths)
        below = [(one, scalar) for one in settings.below for scalar in one.packs] if not self.asked else []
        for one, scalar in below:
            add(scalar.text, Path(one.path), scalar.start)
        if problems:
            raise ReadingError(problems)
        packs = self._loaded(tuple(paths))
        if len(paths) > len(above):
            _only_stricter(self._loaded(above), packs, below)
        return packs

    def _loaded(self, paths: tuple[str, ...]) -> Packs:
        if paths not in self._packs:
            self._packs[paths] = load_packs(paths)
        return self._packs[paths]


_OF_A_BATTERY = ("battery-charger",)


def _brought(design: Design | None) -> tuple[str, ...]:
    """The packs that a design brings, by topology, ports and a battery: left out of a file, nobody would ask them."""
    if design is None:
        return ()
    supply = design.file.supply
    known = TOPOLOGIES.get(supply.topology.word or "") if supply.topology is not None else None
    ports = ("ports",) if design.structure.ports else ()
    charges = any(one.battery is not None for one in supply.plate.outputs.values())
    return (*(known.packs if known is not None else ()), *ports, *(_OF_A_BATTERY if charges else ()))


def _not_too_much(design: Design, packs: Packs) -> None:
    """Raise ReadingError where rules times what they are asked of is more than any supply and any house needs.

    All shipped packs on two hundred parts are a third of it.
    """
    of = len(design.structure.kinds) + len(design.file.barriers) + len(design.layers)
    of += sum(len(one.windings) for one in design.file.transformers.values())
    if len(packs.rules) * of > MOST_ASKED:
        what = f"{len(packs.rules)} rules on {of} parts, windings and barriers are more than are asked in one run"
        raise ReadingError([Problem(Place(design.path), what, "take fewer packs at a time, or split the design")])


def _only_stricter(above: Packs, packs: Packs, below: Sequence[tuple[Below, Scalar]]) -> None:
    """Packs that settings below the root add make nothing softer. Raises ReadingError.

    Of what they relax, switch off or restate each is named, and a family of insulation that they bring.
    """
    before = {(head.name, head.digest) for head in above.heads}
    added = {head.name for head in packs.heads if (head.name, head.digest) not in before}
    softer = [f"{one.name} {one.what} by {one.pack}" for one in packs.softer if one.pack in added]
    softer += [f"insulation family {one}" for one in packs.families if one not in above.families]
    if not softer:
        return
    shown = ", ".join(softer[:3]) + (f" and {len(softer) - 3} more" if len(softer) > 3 else "")
    what = f"the packs added here ask less than the settings above: {shown}"
    place = below[0][1].start
    raise ReadingError([Problem(place, what, "a folder below the root may only ask more; add them at the root")])


def _known_rules(design: Design, packs: Packs) -> None:
    """Every rule that somebody signed for is one of the loaded packs or of a shipped one. Raises ReadingError.

    A waiver beside a rule that there is not was meant for another, and would count for nothing without being seen.
    """
    given: list[WaiverRecord | OpenPointRecord] = [*design.waivers, *design.open_points]
    signed = [one for one in given if one.rule not in ("", ASKED) and packs.rule(one.rule) is None]
    if not signed:
        return
    paths = [*sorted(shipped("rules").rglob("*.yaml")), *(Path(head.path) for head in packs.heads)]
    known = {name for path in paths for name in _RULE.findall(path.read_text(encoding="utf-8"))}
    problems = []
    for one in signed:
        if one.rule not in known:
            close = nearest(one.rule, known)
            instead = f"did you mean {close}?" if close else "derate rules lists them"
            what = f"'{one.rule[:60]}' is no rule of any pack"
            problems.append(Problem(one.rule_place or one.place, what, instead))
    if problems:
        raise ReadingError(problems)


def required_of(packs: Packs) -> Mapping[str, Sequence[Hazard]]:
    """The packs whose absence is told; of the insulation families one has to be there, whichever.

    A house pack that only calls itself by the name of a shipped one brings none.
    """
    return REQUIRED if standing_families(packs) else REQUIRED | INSULATION


def worked(design: Design, packs: Packs, given: Sequence[Entry] | None = None, into: Ledger | None = None) -> Ledger:
    """The ledger of a design under the assumptions of packs: stresses, then what the insulation packs require.

    given: facts to take in place of the design's own, for callers that vary them; into: a ledger that remembers
    """
    assumptions = packs.assumed
    rows = facts(design) if given is None else given
    ledger = run(design.structure, rows, assumptions, design.readings, design.tests, into)
    require(Context(ledger, design, packs))
    return ledger


def review_of(work: Work, today: date, known: KnownRecord | None = None, stop_at: Level | None = None) -> Review:
    """Judge a design that was worked through.

    known: a record of findings to hold back; stop_at moves the level that blocks, None takes that of the settings.
    """
    design, settings = work.design, work.settings
    limits = Limits(settings.longest_days, settings.critical_waivers)
    waivers = [
        Waiver(one.rule, one.subject, one.up_to, one.reason, one.by, one.last_day, one.place, "; ".join(one.wrong))
        for one in design.waivers
    ]
    open_points = [
        OpenPoint(one.rule, one.subject, one.reason, one.by, one.last_day, one.place, "; ".join(one.wrong))
        for one in design.open_points
    ]
    record = None if work.shipped_gate else known
    spent = _spent(record, today, limits) if record is not None else ""
    review = judge(
        work.ledger,
        work.packs,
        path=design.path,
        name=design.name,
        today=today,
        waivers=() if work.shipped_gate else waivers,
        open_points=() if work.shipped_gate else open_points,
        known=record.designs.get(design.name, {}) if record is not None and not spent else None,
        required_packs=work.required,
        notes=(*design.notes, *([spent] if spent else [])),
        limits=limits,
        ratings=all(work.packs.stands(name) for name, hazards in REQUIRED.items() if "overstress" in hazards),
    )
    level: Level = stop_at or settings.stop_at or "default"
    if level != "default":
        review = at_level(review, level, work.packs)
    return review._replace(gate=_gate(work, review, stop_at, None if spent else record))


def gate_behind(work: Work, today: date) -> Gate:
    """What figures were worked out by, for a command that prints no verdict.

    Only a house pack or a choice of packs can have left the judging of a hazard to house rules alone; without one
    nothing has to be judged to say so.
    """
    if work.packs_from or not all(head.shipped for head in work.packs.heads):
        return review_of(work, today).gate
    return _gate(work, None)


def _gate(work: Work, review: Review | None, stop_at: Level | None = None, record: KnownRecord | None = None) -> Gate:
    path, settings = work.design.path, work.settings
    chosen = Chosen(
        stop_at or settings.stop_at or "default",
        COMMAND_LINE.path if stop_at else _shown(settings.stop_at_from, path),
        " and ".join(_shown(one, path) for one in work.packs_from),
        _shown(settings.path, path),
        Limits(settings.longest_days, settings.critical_waivers),
        tuple(REQUIRED),
        next(iter(INSULATION)),
        record,
    )
    if work.design.library is not None:
        chosen = chosen._replace(libraries=_libraries(work.design), raised=_raised(work.design))
    where = {head.name: _where(head.path, path) for head in work.packs.heads}
    return gate_of(review, work.packs, where, chosen)


def _libraries(design: Design) -> tuple[Used, ...]:
    """The libraries of parts that a design took facts from."""
    assert design.library is not None
    return tuple(
        Used(one.name, "" if one.shipped else _shown(one.file, design.path), one.shipped, one.digest)
        for one in design.library.libraries
    )


def _raised(design: Design) -> tuple[Less, ...]:
    """Ratings that a design or a library of the house gives higher than the library below it."""
    assert design.library is not None
    found = [
        Less("rating", f"{one.part} {one.key}", one.before, one.after, one.place.path, one.source)
        for origin in design.library.origins
        for one in origin.overruled
        if one.raised
    ]
    restated = {(one.name, one.key): one for origin in design.library.origins for one in origin.restated}
    found += [
        Less("library", f"{one.name} {one.key}", one.before, one.after, one.place.path) for one in restated.values()
    ]
    return tuple(found)


def _spent(record: KnownRecord, today: date, limits: Limits) -> str:
    """Why a record holds nothing back, '' while it does."""
    head = f"known findings of {record.path}, signed for by {record.signed.by}, are not held back"
    if record.signed.last_day < today:
        return f"{head}: their last day was {record.signed.last_day.isoformat()}"
    far = too_far(record.signed.last_day, today, limits)
    return f"{head}: {far}" if far else ""


def _where(path: str, design: str) -> str:
    """The file of a pack as it is shown; '' for one that lies with derate."""
    rules = shipped("rules").resolve()
    return "" if Path(path).resolve().parent in (rules, rules / "profiles") else _shown(path, design)


def _shown(path: str, design: str) -> str:
    """A file from the root of the repository of a design, so that it reads the same wherever that lies."""
    if path in ("", COMMAND_LINE.path):
        return path
    folder = Path(design).resolve().parent
    real = Path(path).resolve()
    root = repository(folder) or folder
    return real.relative_to(root).as_posix() if real.is_relative_to(root) else path


def at_level(review: Review, level: Level, packs: Packs) -> Review:
    """The review with what blocks at another level, and the words that follow from it."""
    findings = tuple(one._replace(blocks=finding_blocks(one, level)) for one in review.findings)
    held = sum(one.known and finding_blocks(one._replace(known=False), level) for one in review.findings)
    hazards = hazard_words(findings)
    return review._replace(
        findings=findings,
        held_back=held,
        hazards=hazards,
        overall=worst_word(hazards),
        families=family_words(findings, packs.families, {rule.pack: rule.family for rule in packs.rules}),
    )


def _is_path(name: str) -> bool:
    return "/" in name or "\\" in name or name.endswith((".yaml", ".yml"))


def _named_at(name: str, design: Design | None) -> Place:
    """Where a design names a pack: in its own text, or in that of a file it revises."""
    for path, text in design.texts.items() if design is not None else ():
        found = re.search(rf"^packs[ \t]*:[^:]*?(?<![\w-]){re.escape(name)}(?![\w-])", text, re.MULTILINE)
        if found is not None:
            at = found.end() - len(name)
            return Place(path, text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))
    return COMMAND_LINE if design is None else Place(design.path)


def _tried(step: Callable[[], _T], problems: list[Problem]) -> _T | None:
    try:
        return step()
    except ReadingError as error:
        problems += error.problems
        return None


# How a person would write each formula of the ledger, by its name.


def formula_words() -> dict[str, str]:
    """Name of a formula -> the formula written out, for every model of the stress modules that are in use."""
    found: dict[str, str] = {}
    for name in sorted(sys.modules):
        if name.startswith(("derate.stress.", "derate.topologies.")):
            for one in vars(sys.modules[name]).values():
                if isinstance(one, Model) and one.words:
                    found.setdefault(one.name, one.words)
    return found
