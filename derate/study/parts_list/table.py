"""The rows of a parts list: CSV in any encoding, separator and decimal sign, or a sheet of a workbook."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
import zipfile
from typing import NamedTuple

from derate.terms.values import Place, Problem, ReadingError
from derate.text.files import read_ordinary

GREATEST_SIZE = 4_000_000  # bytes of a parts list
MOST_ROWS = 3000
MOST_COLUMNS = 200
_MOST_UNPACKED = 60_000_000  # bytes of a workbook once it is unpacked
_HIDDEN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
_SEPARATORS = (",", ";", "\t", "|")
_DECIMAL_COMMA = re.compile(r"(?<![\d.,])(\d+),(\d+)(?=\s*(?:[pnuµμmkKMRVAWFH%Ω]|$))")
_DECIMAL_POINT = re.compile(r"(?<![\d.,])\d+\.\d+(?=\s*(?:[pnuµμmkKMRVAWFH%Ω]|$))")


class Table(NamedTuple):
    """The rows of a file as text. first: number of the first of them in the file; comma: a comma is the decimal sign

    read: how the file was read, in words
    """

    path: str
    rows: tuple[tuple[str, ...], ...]
    comma: bool
    read: str


def read_table(path: str) -> Table:
    """The rows of a CSV file or of a workbook. Raises ReadingError."""
    data = read_ordinary(path, GREATEST_SIZE)
    if data.startswith(b"PK\x03\x04"):
        return _workbook(path, data)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise _refused(path, "this is a workbook of the old form", "save it as .xlsx or as CSV")
    text, encoding = _decoded(path, data)
    separator, rows = _rows(path, text)
    comma = _decimal_comma(rows, separator)
    told = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}[separator]
    return Table(path, rows, comma, f"{encoding}, {told} between cells, decimal {'comma' if comma else 'point'}")


def _decoded(path: str, data: bytes) -> tuple[str, str]:
    for mark, name in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            try:
                return data.decode(name), name.removesuffix("-sig").upper()
            except UnicodeDecodeError:
                raise _refused(path, f"this is not {name.removesuffix('-sig').upper()} text", "save it again") from None
    if data.count(b"\0") > len(data) // 4:  # without a mark: every other byte of plain letters is nought
        name = "utf-16-le" if data[1:2] == b"\0" else "utf-16-be"
        try:
            return data.decode(name), "UTF-16"
        except UnicodeDecodeError:
            pass
    try:
        return data.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace"), "Windows-1252"


def _rows(path: str, text: str) -> tuple[str, tuple[tuple[str, ...], ...]]:
    """The separator that gives the most cells that stand under each other, and the rows it gives."""
    if "\0" in text:
        raise _refused(path, "this is no text", "name a CSV file or a workbook")
    best: tuple[float, str, list[list[str]]] | None = None
    for separator in _SEPARATORS:
        try:
            rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=False))
        except csv.Error:
            continue
        widths = [len(row) for row in rows if any(cell.strip() for cell in row)]
        if not widths:
            continue
        usual = max(set(widths), key=widths.count)
        score = (widths.count(usual) / len(widths)) * min(usual - 1, 12)
        if best is None or score > best[0]:
            best = (score, separator, rows)
    if best is None:
        raise _refused(path, "this parts list is empty", "name one with a row of column names and a row a part")
    found = best[2]
    if len(found) > MOST_ROWS or max(map(len, found)) > MOST_COLUMNS:
        raise _refused(path, f"a parts list has at most {MOST_ROWS} rows and {MOST_COLUMNS} columns", "split it")
    return best[1], tuple(tuple(plain_text(cell) for cell in row) for row in found)


def plain_text(text: str) -> str:
    """A text on one line, without what no editor shows."""
    shown = (" " if unicodedata.category(one) in _HIDDEN else one for one in text)
    return " ".join("".join(shown).replace("\xa0", " ").replace("\u202f", " ").split())


def _decimal_comma(rows: tuple[tuple[str, ...], ...], separator: str) -> bool:
    """Whether figures of the list have a comma for their point, by how many of them have one or the other."""
    cells = [cell for row in rows for cell in row]
    # three places behind a comma may be thousands, and say nothing of the list
    commas = sum(len(one[1]) != 3 or one[0] == "0" for cell in cells for one in _DECIMAL_COMMA.findall(cell))
    points = sum(len(_DECIMAL_POINT.findall(cell)) for cell in cells)
    return commas > points or (commas == points and commas > 0 and separator == ";")


def _workbook(path: str, data: bytes) -> Table:
    """The sheet of a workbook that holds the most cells."""
    try:
        import openpyxl  # an extra: only where a workbook is read
    except ImportError:
        instead = "install derate[lists], or save the sheet as CSV"
        raise _refused(path, "reading a workbook needs openpyxl, which is not there", instead) from None
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(one.file_size for one in packed.infolist()) > _MOST_UNPACKED:
                raise _refused(path, "this workbook is too large once it is unpacked", "save its sheet as CSV")
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    except ReadingError:
        raise
    except Exception:
        raise _refused(path, "this workbook could not be read", "save its sheet as CSV") from None
    best: tuple[tuple[str, ...], ...] = ()
    name = ""
    for sheet in book.worksheets:
        rows = []
        for number, row in enumerate(sheet.iter_rows(values_only=True, max_col=MOST_COLUMNS)):
            if number >= MOST_ROWS:
                raise _refused(path, f"a parts list has at most {MOST_ROWS} rows", "split it")
            rows.append(tuple(_of_workbook(value) for value in row))
        if sum(bool(cell) for row in rows for cell in row) > sum(bool(cell) for row in best for cell in row):
            best, name = tuple(rows), str(sheet.title)
    if not best:
        raise _refused(path, "this workbook is empty", "name one with a row of column names and a row a part")
    comma = _decimal_comma(best, "")
    return Table(path, best, comma, f"workbook, sheet {plain_text(name)[:40]}, decimal {'comma' if comma else 'point'}")


def _of_workbook(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.12g}"
    return plain_text(str(value))


def _refused(path: str, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(Place(path), what, instead)])
