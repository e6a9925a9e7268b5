"""Loading packs: found, read with those below, changed by house packs, put together; what a family has to have."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path

import derate
from derate.packs.change import Softer, not_as_strict, of_assumption, of_table
from derate.packs.compiled import compiled, digest_of
from derate.packs.pack import Assumption, Head, Keep, Member, Pack, Rule, Shape, facts_of
from derate.packs.reading import Fields, first_character
from derate.packs.table import Table
from derate.terms.dimension import Dimension
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Place, Problem, Problems, ReadingError, nearest
from derate.terms.vocabulary import DIMENSIONS
from derate.terms.words import SEVERITIES, Hazard, Severity
from derate.text.files import leads_out
from derate.text.formula_reader import parse
from derate.text.nodes import Mapping as Block
from derate.text.nodes import Scalar, decoded, read_bytes

# Loading packs: found, read with those they build on, changed by house packs, put together for judging.


# Where a pack is found: by path, by name among the shipped ones, or beside the design up to the repository root.


def shipped(folder: str) -> Path:
    """The shipped folder (`rules`, `designs`): inside the package when installed, beside it in a checkout."""
    package = Path(derate.__file__).parent
    inside = package / folder
    return inside if inside.is_dir() else package.parent / folder


def _same(one: Path, other: Path) -> bool:
    """Whether two files are one, or a copy to the byte: a checkout of this project lies beside its own designs."""
    return one.resolve() == other.resolve() or one.read_bytes() == other.read_bytes()


def find_pack(name: str, near: Path | None, place: Place, beside: Path | None = None) -> Path:
    """The file of a pack.

    name: a path (with a slash or ending in .yaml) or a bare name
    near: the design or folder that asks; a path is taken from there and may not leave its repository (without one,
        that folder), by a link either. None: the command line asks, any path will do
    beside: the folder of the pack that builds on it, looked in first
    place: where it was asked for
    Raises ReadingError when there is none, or two.
    """
    if len(name) > _LONGEST_NAME * (10 if "/" in name else 1) or not name.isprintable():
        raise _refused(
            place, f"'{name[:60]}' is no name or path of a pack", "write a name, or a path of this repository"
        )
    folder = None if near is None else (near if near.is_dir() else near.parent).resolve()
    if "/" in name or "\\" in name or name.endswith((".yaml", ".yml")):
        return _by_path(name, beside or folder, place)
    ours = _ours(name)
    theirs = [path for one in _folders(beside, folder) if (path := one / f"{name}.yaml").is_file()]
    for path in theirs:
        _stays(
            str(path), name, _border(beside if beside is not None and path.is_relative_to(beside) else folder), place
        )
    if ours.is_file() and theirs and not _same(ours, theirs[0]):
        raise _refused(
            place,
            f"pack {name} stands both among the shipped ones and in {theirs[0]}",
            "give your own pack its own name",
        )
    if ours.is_file():
        return ours
    other = next((path for path in theirs if not _same(theirs[0], path)), None)
    if other is not None:
        what = f"two files are pack {name} for this design: {theirs[0]} and {other}"
        raise _refused(place, what, "name the one you mean by its path, or take one away")
    if theirs:
        return theirs[0]
    known = [path.stem for path in sorted(shipped("rules").glob("*.yaml"))]
    close = nearest(name, [*known, *profile_names()])
    instead = f"write {close}" if close else f"there are {', '.join(known)}" if known else ""
    raise _refused(place, f"there is no pack '{name}'", instead)


def _ours(name: str) -> Path:
    """Where a shipped pack of this name would lie: among the packs, or among the profiles that somebody asks for."""
    ours = shipped("rules") / f"{name}.yaml"
    return ours if ours.is_file() or not name.startswith(PROFILE) else shipped("rules") / "profiles" / f"{name}.yaml"


PROFILE = "profile-"  # how the name of each begins; nobody's settings load one unasked


def profile_names() -> tuple[str, ...]:
    """Names of the shipped derating profiles."""
    return tuple(path.stem for path in sorted((shipped("rules") / "profiles").glob("*.yaml")))


@cache
def shipped_names() -> frozenset[str]:
    """Names of the packs that are shipped."""
    return frozenset(path.stem for path in shipped("rules").glob("*.yaml"))


def is_shipped(name: str, content: bytes) -> bool:
    """Whether a content is that of the pack shipped under a name, byte for byte; where it lies says nothing."""
    known = name in shipped_names() or (name.startswith(PROFILE) and name in profile_names())  # no name meets the disk
    return known and _ours(name).read_bytes() == content


def repository(folder: Path) -> Path | None:
    """The root of the repository a folder lies in, or None."""
    for one in (folder, *folder.parents):
        if (one / ".git").exists():
            return one
    return None


def _folders(beside: Path | None, folder: Path | None) -> tuple[Path, ...]:
    """Beside the pack, beside the design, then upwards as far as the repository goes; `rules` in each."""
    found = [] if beside is None else [beside]
    if folder is not None:
        root = repository(folder)
        upwards = [folder]
        while root is not None and upwards[-1] != root:
            upwards.append(upwards[-1].parent)
        found += upwards
    return tuple(path for one in found for path in (one, one / "rules"))


def named_so(name: str, near: Path) -> tuple[Path, ...]:
    """Every file that a pack of this name would be taken from, asked for from a folder; shipped ones apart."""
    return tuple(path for one in _folders(None, near) if (path := one / f"{name}.yaml").is_file())


def _by_path(name: str, base: Path | None, place: Place) -> Path:
    path = Path(name) if base is None else base / name
    if base is not None:
        _stays(str(path), name, _border(base), place)
    if not os.path.isfile(path):  # which is no for a name that no folder takes, too
        raise _refused(place, f"there is no file '{name}'", "")
    return path


def _border(folder: Path | None) -> Path | None:
    """The folder that no pack of a folder lies outside of: its repository, or itself; None for the command line."""
    return None if folder is None else repository(folder.resolve()) or folder.resolve()


def _stays(path: str, name: str, border: Path | None, place: Place) -> None:
    if border is not None and leads_out(path, str(border)):
        raise _refused(place, f"'{name}' leads out of the repository", "keep the packs of a design inside it")


def _refused(place: Place, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(place, what, instead)])


# Loading packs: found, read with those they build on, changed by house packs, put together for judging.


MOST_DEEP, MOST_PACKS = 20, 60  # packs that build on one another, and packs of one run
_LONGEST_NAME = 200
_Key = tuple[str, str]  # family ('' when the pack belongs to none) and name


class Packs(NamedTuple):
    """All packs of a run, put together; `names` in the order they were read, those built on first."""

    rules: tuple[Rule, ...]
    tables: Mapping[_Key, Table]
    assumptions: Mapping[_Key, Assumption]
    heads: tuple[Head, ...]
    notes: tuple[str, ...]
    softer: tuple[Softer, ...] = ()  # what house packs ask less

    def stands(self, name: str) -> bool:
        """Whether the pack of a name is in use; one that only calls itself by the name of a shipped pack is not."""
        return any(head.name == name and (head.shipped or name not in shipped_names()) for head in self.heads)

    @property
    def assumed(self) -> dict[str, Assumption]:
        """Every assumption by name alone; where a house pack and a shipped one have it, that of the house."""
        shipped = {head.name for head in self.heads if head.shipped}
        ordered = sorted(self.assumptions.items(), key=lambda one: one[1].pack not in shipped)
        return {name: one for (_, name), one in ordered}

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all packs, those built on included."""
        return tuple(head.name for head in self.heads)

    @property
    def families(self) -> tuple[str, ...]:
        """Insulation families that the rules belong to, sorted; packs of none do not count."""
        return tuple(sorted({rule.family for rule in self.rules if rule.family}))

    def table(self, name: str, family: str = "") -> Table | None:
        """A table of a family, or of a pack that belongs to none."""
        return self.tables.get((family, name)) or self.tables.get(("", name))

    def assumption(self, name: str, family: str = "") -> Assumption | None:
        """An assumption of a family, or of a pack that belongs to none."""
        return self.assumptions.get((family, name)) or self.assumptions.get(("", name))

    def rule(self, name: str) -> Rule | None:
        """A rule by name."""
        return next((rule for rule in self.rules if rule.name == name), None)

    def hazards(self, pack: str) -> tuple[Hazard, ...]:
        """Hazards that the rules of a pack look at, sorted."""
        return tuple(sorted({rule.hazard for rule in self.rules if rule.pack == pack}))


def load_packs(names: Iterable[str | Scalar], near: Path | None = None, place: Place | None = None) -> Packs:
    """Find, read and check packs, with those they build on.

    names: names or paths; a scalar of a design file carries its place
    near: the design that asks (see find.find_pack); None for the command line
    Raises ReadingError with every problem found.
    """
    loading = _Loading(near, {})
    for name in names:
        at = name.start if isinstance(name, Scalar) else place or Place("command line")
        loading.load(str(name), at, None, ())
    return loading.packs()


def read_apart(names: Iterable[str]) -> tuple[Pack, ...]:
    """Packs and those they build on, each by itself as it was read. Raises ReadingError."""
    loading = _Loading(None, {})
    for name in names:
        loading.load(name, Place("command line"), None, ())
    loading.packs()
    return tuple(loading.done.values())


def read_packs(texts: Mapping[str, str]) -> Packs:
    """Packs from texts by path, found by their name: for trials, tests and documentation."""
    loading = _Loading(None, {Path(path).stem: (path, text) for path, text in texts.items()})
    for name, (path, _) in loading.given.items():
        loading.load(name, Place(path), None, ())
    return loading.packs()


class _Loading:
    def __init__(self, near: Path | None, given: dict[str, tuple[str, str]]) -> None:
        self.near, self.given = near, given
        self.problems: list[Problem] = Problems()
        self.done: dict[str, Pack] = {}  # by path, in the order they were finished
        self.family: dict[str, str] = {}  # by path
        self.below: dict[str, set[str]] = {}  # by path: itself and all it builds on
        self.rules: dict[str, Rule] = {}
        self.tables: dict[_Key, Table] = {}
        self.softer: list[Softer] = []

    def load(self, name: str, place: Place, beside: Path | None, chain: tuple[str, ...]) -> str | None:
        """Read one pack and those it builds on; returns its path, None when it could not be read."""
        try:
            if name in self.given:
                path: str
                content: bytes | None
                path, text = self.given[name]
                content = text.encode()
            else:
                path, content = str(find_pack(name, self.near, place, beside)), None
            identity = path if name in self.given else str(Path(path).resolve())
            if identity in chain:
                circle = " → ".join(Path(one).stem for one in (*chain[chain.index(identity) :], identity))
                self.problems.append(Problem(place, f"this pack builds on itself: {circle}", "take one of them out"))
                return None
            if identity in self.done:
                return identity
            if len(chain) >= MOST_DEEP or len(self.done) + len(chain) >= MOST_PACKS:
                many = f"{MOST_DEEP} packs build on one another" if len(chain) >= MOST_DEEP else f"{MOST_PACKS} packs"
                self.problems.append(Problem(place, f"more than {many}", "write what is alike into one pack"))
                return None
            self._read(identity, path, read_bytes(path) if content is None else content, chain)
        except ReadingError as error:
            self.problems += error.problems
            return None
        return identity

    def _read(self, identity: str, path: str, content: bytes, chain: tuple[str, ...]) -> None:
        digest = digest_of(content)
        stored, fields = compiled(path, digest), None
        if stored is None:
            head, fields = _head_of(content, path, digest, self.problems)
        else:
            head = stored.head
        below: list[str] = []
        for scalar in head.builds_on:
            found = self.load(scalar.text, scalar.start, Path(head.path).parent, (*chain, identity))
            if found is not None and found in self.done:
                below.append(found)
        families = {self.family[one] for one in below if self.family[one]} | ({head.family} - {""})
        if len(families) > 1:
            self._wrong(
                head.builds_on_place,
                f"packs of different families do not mix: {', '.join(sorted(families))}",
                "write one pack a family",
            )
        family = min(families, default="")
        names: dict[str, Dimension] = {}
        sources: dict[str, str] = {}
        seen = tuple(path for path in self.done if any(path in self.below[one] for one in below))
        for one in seen:
            names |= self.done[one].names
            sources |= self.done[one].sources
        digests = tuple(sorted(self.done[one].head.digest for one in seen))
        if stored is not None and stored.below == digests:
            pack = stored
        else:
            from derate.packs.read_pack import read_body  # not needed for compiled packs

            if fields is None:
                head, fields = _head_of(content, path, digest, self.problems)
            pack = read_body(head, fields, family, names, sources, digests)
        for other in self.done.values():
            if other.head.name == head.name:
                self._wrong(head.name_place, f"two packs are called {head.name}", f"see {other.head.path}")
        self.below[identity] = {identity, *seen}
        self.done[identity] = pack
        self.family[identity] = family
        self._add(pack, family)
        within = {self.done[one].head.name for one in seen}
        self._change(pack, within, {**names, **pack.names})

    def _wrong(self, place: Place, what: str, instead: str) -> None:
        self.problems.append(Problem(place, what, instead))

    def _add(self, pack: Pack, family: str) -> None:
        for rule in pack.rules:
            earlier = self.rules.get(rule.name)
            if earlier is not None:
                self._wrong(rule.place, f"rule {rule.name} stands in pack {earlier.pack} too", "rename one of them")
            else:
                self.rules[rule.name] = rule
        for name, table in pack.tables.items():
            if (family, name) in self.tables:
                other = self.tables[family, name]
                if other.pack != pack.head.name:
                    self._wrong(table.place, f"table {name} stands in pack {other.pack} too", "rename one of them")
            else:
                self.tables[family, name] = table

    def _change(self, pack: Pack, within: set[str], names: dict[str, Dimension]) -> None:
        if not pack.changes:
            return
        from derate.packs.change import change_rules  # not needed for the shipped packs
        from derate.terms.vocabulary import DIMENSIONS

        known = {**DIMENSIONS, **names}
        if "restate" in pack.changes:
            self._restate_tables(pack.changes["restate"], pack, within)
        reach = {name: rule for name, rule in self.rules.items() if rule.pack in within}
        signed = self._signed()
        for word, block in pack.changes.items():
            change_rules(reach, word, block, pack.head.name, known, pack.sources, signed, self.problems, self.softer)
        self.rules |= reach

    def _signed(self) -> set[str]:
        """The tables and assumptions with a figure below zero, as formulas name them."""
        tables = {
            f"table.{name}"
            for (_, name), table in self.tables.items()
            if any(cell.value is not None and cell.value.low < 0.0 for cell in table.cells.values())
        }
        assumed = {f"assumption.{name}": one for pack in self.done.values() for name, one in pack.assumptions.items()}
        return tables | {name for name, one in assumed.items() if one.value.low < 0.0}

    def _restate_tables(self, block: Block, pack: Pack, within: set[str]) -> None:
        from derate.packs.read_pack import read_table

        for key, node in block.entries:
            if not key.text.startswith("table."):
                continue
            name = key.text[6:]
            reach = {one: at for at, table in self.tables.items() if table.pack in within for one in (at[1],)}
            if name not in reach or not isinstance(node, Block):
                close = nearest(name, reach)
                what = f"there is no table '{name}' in the packs this one builds on"
                if name in reach:
                    what = "a restated table is a whole table"
                self.problems.append(
                    Problem(first_character(key), what, f"write table.{close}" if close and name not in reach else "")
                )
                continue
            old = self.tables[reach[name]]
            new = read_table(Scalar(name, key.place), node, pack.head.name, reach[name][0], pack.sources, self.problems)
            if new is None:
                continue
            if new.unit != old.unit or [axis.name for axis in new.axes] != [axis.name for axis in old.axes]:
                self.problems.append(
                    Problem(key.start, f"table {name} has other axes or another unit than it had", f"see {old.place}")
                )
            elif any(cell.confidence == "remembered" for cell in new.cells.values()):
                self.problems.append(
                    Problem(key.start, "a restated table is not remembered", "name where its figures were read")
                )
            else:
                self.tables[reach[name]] = new._replace(pack=old.pack)
                less = of_table(old, new, pack.head.name)
                self.softer += [] if less is None else [less]

    def packs(self) -> Packs:
        """Everything put together, or the error with all problems."""
        if self.problems:
            raise ReadingError(self.problems)
        assumptions = self._assumptions()
        if self.problems:
            raise ReadingError(self.problems)
        notes = tuple(
            f"{change.pack}: {rule.name} {change.what}" + (f": {change.reason}" if change.reason else "")
            for rule in self.rules.values()
            for change in rule.changes
        )
        return Packs(
            tuple(self.rules.values()),
            dict(self.tables),
            assumptions,
            tuple(pack.head for pack in self.done.values()),
            notes,
            tuple(self.softer),
        )

    def _assumptions(self) -> dict[_Key, Assumption]:
        """The assumptions of all packs: what a house pack says stands over a shipped one, in whatever order they came.

        Two house packs of which neither builds on the other may not both say it.
        """
        packs = list(self.done.items())
        ordered = [one for one in packs if one[1].head.shipped] + [one for one in packs if not one[1].head.shipped]
        found: dict[_Key, Assumption] = {}
        spoken: dict[str, tuple[str, Assumption]] = {}  # by name alone: the stresses ask for no family
        for path, pack in ordered:
            for name, one in pack.assumptions.items():
                earlier = spoken.get(name)
                if earlier is not None and not pack.head.shipped:
                    before, other = earlier
                    if not self.done[before].head.shipped and before not in self.below[path]:
                        self._wrong(
                            one.place, f"assumption {name} stands in pack {other.pack} too", f"see {other.place}"
                        )
                    less = of_assumption(other, one)
                    self.softer += [] if less is None else [less]
                found[self.family[path], name] = one
                spoken[name] = (path, one)
        return found


def _head_of(content: bytes, path: str, digest: str, problems: list[Problem]) -> tuple[Head, Fields]:
    """The head of a pack file, and the fields that the rest is read from. Raises ReadingError."""
    from derate.packs.read_pack import read_head  # not needed for compiled packs

    head, fields = read_head(decoded(content, path), path, problems)
    return head._replace(digest=digest, shipped=is_shipped(head.name, content)), fields


# What an insulation family must have to count as one: tables its distances are read from, rules that hold them.
#
# A pack may bring a family of its own in place of a shipped one. It counts as that family only where none of these is
# lacking; a family that lacks one says so as not assessed, since what it does not ask nobody has looked at. Only the
# form is looked at here: figures of a house table are told, never taken for those of the standard.


_DISTANCES = ("mains_transient", "clearance_by_impulse", "creepage")
TABLES: dict[str, tuple[str, ...]] = {
    "60664-1": (*_DISTANCES, "clearance_by_peak", "creepage_printed_wiring", "altitude_factor", "groove_width"),
    "62368-1": (
        *_DISTANCES,
        "clearance_by_peak",
        "clearance_by_peak_fast",
        "creepage_fast",
        "temporary_overvoltage",
        "altitude_factor",
        "groove_width",
        "insulation_thickness",
        "tape_layers",
        "strength_by_impulse",
        "strength_by_mains",
        "touch_current",
        "charge_limit",
    ),
    "60335-1": (*_DISTANCES, "impulse_steps", "strength", "tape_layers", "touch_current"),
    "60598-1": (
        *_DISTANCES,
        "preferred_impulse",
        "strength_share",
        "strength_added",
        "strength_added_of_lamps",
        "altitude_factor",
    ),
}


class Asked(NamedTuple):
    """A rule that a family must have.

    says: in words; severity: at least as heavy; keep: a comparison that has to be asked at least as strictly
    member: a fact and the only words that may pass; looks_at: facts it has to look up, where its shape is its own
    role: of a barrier, '' for every subject; state: a fact and the word at which it must be asked, where a subject in
    another state is asked otherwise
    """

    says: str
    about: str
    hazard: Hazard
    severity: Severity
    keep: str = ""
    member: tuple[str, tuple[str, ...]] | None = None
    looks_at: tuple[str, ...] = ()
    role: str = ""
    state: tuple[str, str] = ("", "")


_BARRIERS = ("primary to secondary", "primary to earth", "primary to touchable parts")
_EVERY: tuple[Asked, ...] = (
    *(
        Asked(
            f"{name} of mains poles ahead of the fuse",
            "barrier",
            "fire",
            "critical",
            keep=f"found.{name} >= needed.{name}",
            role="mains poles ahead of the fuse",
        )
        for name in ("clearance", "creepage")
    ),
    *(
        Asked(
            f"{name} {role}",
            "barrier",
            "shock",
            "critical",
            keep=f"found.{name} >= needed.{name}",
            role=role,
            state=("barrier.touching", "no"),
        )
        for name in ("clearance", "creepage")
        for role in _BARRIERS
    ),
    *(  # what touches through an insulation has no distance, and stands on its thickness alone
        Asked(
            f"thickness of solid insulation {role}",
            "barrier",
            "shock",
            "critical",
            keep="found.insulation_thickness >= needed.insulation_thickness",
            role=role,
            state=("barrier.solid", "yes"),
        )
        for role in _BARRIERS
    ),
    Asked(
        "voltage of the electric-strength test",
        "circuit pair",
        "shock",
        "critical",
        keep="test.voltage >= needed.electric_strength",
    ),
    Asked(
        "result of the electric-strength test", "circuit pair", "shock", "critical", member=("test.result", ("held",))
    ),
)
_PRODUCT: tuple[Asked, ...] = (
    Asked("layers of tape", "transformer", "shock", "critical", looks_at=("found.tape_layers", "needed.tape_layers")),
    Asked("what bridges the barrier", "bridge", "shock", "critical", looks_at=("bridge.provides",)),
    Asked("touch current", "supply", "shock", "major", keep="touch_current <= needed.touch_current"),
)
RULES: dict[str, tuple[Asked, ...]] = {
    "60664-1": _EVERY,
    "62368-1": (*_EVERY, *_PRODUCT),
    "60335-1": (*_EVERY, *_PRODUCT),
    "60598-1": (*_EVERY, *_PRODUCT),
}


def lacking(packs: Packs, family: str) -> tuple[str, ...]:
    """What a family lacks to count as one, in words; empty where it has everything."""
    tables = [f"table {name}" for name in TABLES[family] if (family, name) not in packs.tables]
    own = [rule for rule in packs.rules if rule.family == family and not rule.switched_off]
    rules = [f"a rule on {one.says}" for one in RULES[family] if not any(_asks(rule, one) for rule in own)]
    return (*tables, *rules)


def _asks(rule: Rule, one: Asked) -> bool:
    """Whether a rule asks what a family must ask, of every subject it must be asked of."""
    if (rule.about, rule.hazard) != (one.about, one.hazard) or rule.cases or rule.when:
        return False
    if SEVERITIES.index(rule.severity) > SEVERITIES.index(one.severity):
        return False
    if one.looks_at:
        return set(one.looks_at) <= set(facts_of(rule.shape))
    state = {"barrier.role": one.role, one.state[0]: one.state[1]}
    reached = all(
        condition.name in state and condition.holds(Category.of(state[condition.name])) for condition in rule.applies
    )
    return reached and not not_as_strict(_shape(one), rule.shape)


def _shape(one: Asked) -> Shape:
    if one.member is not None:
        return Member(*one.member)
    return Keep(parse(one.keep, Place(""), DIMENSIONS, True))
