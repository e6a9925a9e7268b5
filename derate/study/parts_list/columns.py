"""What the columns of a parts list hold: guessed from their names and from what stands in them, or as somebody says."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from derate.study.parts_list.table import Table
from derate.terms.values import Place, Problem, ReadingError, nearest

# What a column may hold, and the names that people and programs give it, in small letters without blanks and signs.
_NAMES: Final[Mapping[str, str]] = {
    "designator": (
        "designator designators reference references refdes ref refs referencedesignator referencedesignators parts "
        "partreference partreferences location bezeichner bauteile referenz referenzen repere reperes rif riferimento "
        "referencia refdesignator refdeslist componentreference component"
    ),
    "value": "value values wert werte val valeur valore valor comment partvalue nominal nennwert cmpvalue",
    "quantity": "quantity qty qnty quant count anzahl menge stuck stueck stk quantite cantidad qtyper amount",
    "package": "package footprint pcbfootprint case casepackage gehause gehaeuse bauform size pattern boitier",
    "description": (
        "description desc beschreibung bezeichnung details partdescription designation spec specification "
        "descripcion descrizione rating ratings kennwerte"
    ),
    "type": (
        "partnumber mpn manufacturerpartnumber mfrpartnumber mfgpartnumber manufacturerpart ordercode orderno "
        "bestellnummer bestellnr typ type device teilenummer artikelnummer articlenumber mfrpn mfgpn mfrno partno "
        "libref model"
    ),
    "maker": "manufacturer mfr mfg maker hersteller fabricant vendor brand manufacturername mfrname",
    "fitted": "fitted populate populated assemble bestuckt bestueckt montiert mounted inbom place",
    "not fitted": "dnp dnf dni donotpopulate donotplace donotfit nofit nopop notfitted nichtbestuckt excludefrombom",
    "voltage": "voltage ratedvoltage voltagerating spannung nennspannung tension volts maxvoltage",
    "tolerance": "tolerance tol toleranz",
    "power": "power powerrating ratedpower leistung belastbarkeit puissance wattage",
    "current": "current ratedcurrent currentrating strom nennstrom courant",
    "note": "note notes remark remarks bemerkung bemerkungen kommentar comments hinweis",
}
ROLES: Final[Mapping[str, tuple[str, ...]]] = {role: tuple(names.split()) for role, names in _NAMES.items()}
DESIGNATOR = re.compile(r"[A-Z]{1,4}\d{1,4}[A-Z]?", re.IGNORECASE)
_LIST = re.compile(
    r"[A-Za-z]{1,4}\d{1,4}[A-Za-z]?(?:(?:\s*(?:[,;/&+]|-|–|—|…|\.{2,3}|\bto\b|\bbis\b)\s*|\s+)[A-Za-z]{0,4}\d{1,4}[A-Za-z]?)*[,;]?"
)
_FIRST_ROWS = 40  # in which the names of the columns stand


class Columns(NamedTuple):
    """Which column holds what. header: number of the row of names; roles: column by what it holds; names: as written"""

    header: int
    roles: Mapping[str, int]
    names: tuple[str, ...]

    @property
    def unused(self) -> tuple[str, ...]:
        """Names of the columns that nothing is taken from."""
        used = set(self.roles.values())
        return tuple(name for number, name in enumerate(self.names) if number not in used and name)

    def told(self) -> str:
        """In words: what was taken from where."""
        return ", ".join(f"{role} from '{self.names[number]}'" for role, number in self.roles.items())


def plain_name(name: str) -> str:
    """A name of a column in small letters, without accents, blanks, signs and what stands in brackets."""
    import unicodedata

    text = re.sub(r"[(\[].*?[)\]]", "", name) or name
    text = unicodedata.normalize("NFKD", text.replace("ß", "ss"))
    return "".join(letter for letter in text.lower() if letter.isascii() and letter.isalnum())


def find_columns(table: Table, chosen: Sequence[str] = ()) -> Columns:
    """The columns of a list. chosen: `ROLE=NAME` of the command line. Raises ReadingError."""
    best: tuple[int, int] = (0, -1)
    for number, row in enumerate(table.rows[:_FIRST_ROWS]):
        score = sum(3 if _role(cell) == "designator" else 1 for cell in row if _role(cell))
        if score > best[0] and len([cell for cell in row if cell]) > 1:
            best = (score, number)
    header = best[1]
    wanted = [one.partition("=")[::2] for one in chosen]
    if header < 0 and wanted:
        names = {plain_name(name) for _, name in wanted}
        header = next(
            (number for number, row in enumerate(table.rows[:_FIRST_ROWS]) if names & set(map(plain_name, row))), -1
        )
    if header < 0:
        raise _refused(
            table.path, "no row of this list has names of columns that are known here", "--column designator=NAME says"
        )
    names_of = table.rows[header]
    roles: dict[str, int] = {}
    for number, cell in enumerate(names_of):
        role = _role(cell)
        if role and role not in roles:
            roles[role] = number
    below = table.rows[header + 1 :]
    _by_content(roles, names_of, below)
    for role, name in wanted:
        roles = _choose(table.path, roles, names_of, role.strip(), name.strip())
    if "designator" not in roles:
        raise _refused(
            table.path,
            f"none of the columns {', '.join(one for one in names_of if one)[:120]} holds designators",
            "write --column designator=NAME",
        )
    return Columns(header, roles, names_of)


def _role(cell: str) -> str:
    name = plain_name(cell)
    return next((role for role, names in ROLES.items() if name in names), "") if name else ""


def _share(below: Sequence[Sequence[str]], column: int) -> float:
    """How many of the cells of a column are lists of designators."""
    cells = [row[column] for row in below if column < len(row) and row[column]]
    return sum(_LIST.fullmatch(cell) is not None for cell in cells) / len(cells) if cells else 0.0


def _by_content(roles: dict[str, int], names: Sequence[str], below: Sequence[Sequence[str]]) -> None:
    """The column of designators is the one in which they stand, whatever it is called."""
    shares = {number: _share(below, number) for number in range(len(names))}
    if not shares:
        return
    best = max(shares, key=lambda one: (shares[one], -one))
    named = roles.get("designator")
    if shares[best] >= 0.6 and (named is None or shares[named] < 0.4):
        for role, number in list(roles.items()):
            if number == best:
                del roles[role]
        roles["designator"] = best


def _choose(path: str, roles: dict[str, int], names: Sequence[str], role: str, name: str) -> dict[str, int]:
    if role not in ROLES:
        close = nearest(role, ROLES)
        instead = f"write {close}" if close else f"there are {', '.join(ROLES)}"
        raise _refused(path, f"'{role[:40]}' is nothing that a column holds here", instead)
    if not name:
        return {one: number for one, number in roles.items() if one != role}
    number = next((at for at, one in enumerate(names) if one.lower() == name.lower()), None)
    if number is None:
        close = nearest(name, [one for one in names if one])
        instead = f"write {close}" if close else f"there are {', '.join(one for one in names if one)}"
        raise _refused(path, f"'{name[:40]}' is no column of this list", instead)
    return {one: at for one, at in roles.items() if at != number and one != role} | {role: number}


_ONE_RANGE = re.compile(r"([A-Za-z]{1,4})(\d{1,4})\s*(?:-|–|—|…|\.{2,3}|\bto\b|\bbis\b)\s*([A-Za-z]{0,4})(\d{1,4})")
_MOST_OF_A_RANGE = 200


def designators(cell: str) -> tuple[tuple[str, ...], str]:
    """Every designator of a cell, ranges written out; and what of the cell is none."""
    found: dict[str, None] = {}
    rest: list[str] = []

    def written_out(match: re.Match[str]) -> str:
        letters, first, other, last = match.groups()
        begin, end = int(first), int(last)
        if (other and other.upper() != letters.upper()) or not begin < end < begin + _MOST_OF_A_RANGE:
            return match.group().replace(" ", "")
        return " ".join(f"{letters}{number}" for number in range(begin, end + 1))

    text = _ONE_RANGE.sub(written_out, cell)
    for piece in re.split(r"[\s,;/&+]+", text):
        if not piece:
            continue
        if DESIGNATOR.fullmatch(piece):
            found[piece.upper() if piece.islower() else piece] = None
        else:
            rest.append(piece)
    return tuple(found), " ".join(rest)


def _refused(path: str, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(Place(path), what, instead)])
