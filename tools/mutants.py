"""Plants single mutations in the central functions and asks whether the tests of their own folder see them.

    python tools/mutants.py                          every group, 12 mutants a function
    python tools/mutants.py -g flyback -n all        every mutant of one group
    python tools/mutants.py -f forward_loss --list   what would be planted in one function

A mutation is one slip of the kind people make: a sign, a factor, a boundary (`<` for `<=`), a swapped argument, corner
or `min`/`max`, `and` for `or`, a returned constant, an index one off, a term, guard or call that is not there. It is
planted in a copy of the checkout in a temporary folder; nothing is written where you work. The tests named for the
group run on it, the quick ones first, and stop at the first that fails. Left alone are messages, annotations and
numbers below 1e-6 (thresholds of iterations).

TARGETS names functions, not files: the package is searched for them, so a file may move. `mutants_equivalent.yaml`
beside this tool lists mutations that change nothing a caller could see, each with the argument; they are counted apart,
and `--equivalents` runs them all to see that none is killed. A mutant is first swapped into the function that is
loaded, which is quick; one that lives through that is planted in the file and run again. The time limit counts
processor time, so that a busy machine kills no mutant. Needs a system with fork.
"""

from __future__ import annotations

import argparse
import ast
import copy
import difflib
import importlib
import importlib.util
import inspect
import math
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = "derate"
EQUIVALENT = Path(__file__).with_name("mutants_equivalent.yaml")
LEAST = 0.9  # share of the mutants that the tests have to kill
QUICK = 0.4  # longest test of a quick run [s]
SMALLEST = 1e-6  # smaller numbers are thresholds of iterations: any near them do the same
NOT_COPIED = ("__pycache__", ".git", "node_modules", ".venv", "venv", "build", "dist", ".*_cache", ".hypothesis")


class Target(NamedTuple):
    """Functions (methods with their class before a dot), the test folder that has to kill their mutants, and its files.

    near: patterns of the test files looked at; a group whose patterns find none is given the whole folder.
    """

    folder: str
    near: tuple[str, ...]
    functions: tuple[str, ...]


def _target(folder: str, near: str, functions: str) -> Target:
    return Target(folder, tuple(near.split()), tuple(functions.split()))


TARGETS: dict[str, Target] = {
    "rectifier": _target(
        "tests/circuit",
        "test_rectifier.py",
        "steady_state _unloaded _settle _settle_from _fed_past_the_crest _reenter _conduct _add _vertex",
    ),
    "line transformer": _target(
        "tests/circuit",
        "test_transformer_rail.py",
        "rectified unloaded open_voltage seen_resistance resistance_by_load magnetising_inrush heated seen_capacitance "
        "regulator_loss first_crest shorted_secondary charging _Arc._settled _Arc._gained _Arc._ended _Arc.of_two",
    ),
    "buck": _target(
        "tests/circuit",
        "test_buck_formulas.py",
        "fixed boundary limited pulsed at_limit available_at set_current settled overshoot following lost stands",
    ),
    "inrush": _target("tests/circuit", "test_inrush*.py", "switch_on worst_switch_on step_current _next_conduction"),
    "flyback": _target(
        "tests/circuit",
        "test_flyback.py test_flyback_stage.py test_converter_examples.py",
        "trapezoid_rms reflected_voltage operating_point continuous_duty lifted_peak peak_at_limit "
        "limit_power _positive",
    ),
    "clamp": _target(
        "tests/circuit", "test_clamp*.py test_flyback_stage.py test_converter_examples.py", "leakage_excess rcd_clamp"
    ),
    "secondary": _target(
        "tests/circuit",
        "test_secondary*.py test_flyback_stage.py test_converter_examples.py",
        "reverse_voltage snubber_loss forward_loss flyback_winding_rail secondary_current pulse shared_band",
    ),
    "outcome": _target("tests/judge", "test_outcome*.py test_comparison*.py", "_size worst best"),
    "comparison": _target("tests/judge", "test_comparison*.py", "Guard.below compare excess agreement _apart"),
    "blocking": _target("tests/judge", "test_blocking*.py", "acknowledged finding_blocks blocks"),
    "ledger": _target(
        "tests/ledger",
        "test_*.py",
        "Ledger.__len__ Ledger.__getitem__ Ledger.write Ledger.copy Ledger._keep Ledger.hole Ledger.find "
        "Ledger.rows Ledger.subjects Ledger.work_out Ledger._four Ledger._output Model.corners Model.inputs "
        "ends corner_points banded _shifted Subject.__str__ Case.__str__",
    ),
    "table": _target(
        "tests/packs",
        "test_table*.py",
        "Axis.rows Table.look_up Table._joined Table._where _word_rows _number_rows _shown _between _weights",
    ),
    "distances": _target(
        "tests/required",
        "test_distance*.py test_insulation_examples.py",
        "volts impulse raised_impulse clearance_by_impulse clearance_by_stricter_step _next_step "
        "temporary_overvoltage clearance_by_peak bounded_by_reports altitude_factor at_altitude table_voltage "
        "column_of creepage_basic creepage_printed_wiring creepage creepage_fast _rounded",
    ),
    "quantity": _target(
        "tests/text",
        "test_quantity*.py test_figures*.py",
        "read_quantity read_scalar read_said read_figures figures_begin read_table read_rating _plain _read "
        "_figure _condition _row",
    ),
}

# ---------------------------------------------------------------------------------------------------- what is planted

_BOUNDARY = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
_TURNED = {
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
_SIGN = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}
_KEEP_LEFT = (ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Pow, ast.FloorDiv, ast.Mod, ast.BitOr, ast.BitAnd)
_KEEP_RIGHT = (ast.Add, ast.Mult, ast.BitOr, ast.BitAnd)
_SWAPPED_NAMES = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "floor": "ceil",
    "ceil": "floor",
    "sin": "cos",
    "cos": "sin",
}
_SWAPPED_ENDS = {"low": "high", "high": "low", "near": "far", "far": "near"}
_ARGUMENTS_STAY = {"in_range", "isinstance", "getattr", "setattr", "hasattr"}  # exchanged, they only crash


class Mutation(NamedTuple):
    """One slip: where it is in the source (bytes), what stands there instead, and how it reads.

    label: `what stands there => what is planted`, the nearest expression that says something; a second one that reads
    the same in the same function gets ` (2)`. It is the name of the mutation in the list of equivalents.
    """

    group: str
    function: str
    kind: str
    path: Path
    line: int
    start: int
    end: int
    text: str
    label: str


class Site(NamedTuple):
    node: ast.expr | ast.stmt
    new: ast.expr | ast.stmt
    kind: str


def _expressions(node: ast.AST) -> Iterator[tuple[ast.AST, str, int | None, ast.AST]]:
    """Every node that may be mutated, with its parent and the field it stands in."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_comment"):
            continue
        for index, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if not isinstance(child, ast.AST) or isinstance(child, (ast.JoinedStr, ast.Raise)):
                continue
            if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
                continue  # a docstring
            yield node, name, index, child
            yield from _expressions(child)


def _sites(node: ast.AST, parent: ast.AST, field: str, returns: str) -> Iterator[Site]:
    """The slips that can be made at one node."""
    if isinstance(node, ast.Compare):
        for k, operator in enumerate(node.ops):
            for kind, others in (("boundary", _BOUNDARY), ("comparison turned", _TURNED)):
                if type(operator) in others:
                    new = copy.deepcopy(node)
                    new.ops[k] = others[type(operator)]()
                    yield Site(node, new, kind)
    elif isinstance(node, ast.BinOp) and not _is_text(node.left) and not _is_text(node.right):
        if type(node.op) in _SIGN:
            yield Site(node, ast.BinOp(node.left, _SIGN[type(node.op)](), node.right), "sign or operation")
        if isinstance(node.op, _KEEP_LEFT):
            yield Site(node, node.left, "term dropped")
        if isinstance(node.op, _KEEP_RIGHT):
            yield Site(node, node.right, "term dropped")
    elif isinstance(node, ast.BoolOp):
        other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield Site(node, ast.BoolOp(other, node.values), "and for or")
        for k in range(len(node.values)):
            rest = node.values[:k] + node.values[k + 1 :]
            yield Site(node, rest[0] if len(rest) == 1 else ast.BoolOp(node.op, rest), "condition dropped")
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.Not)):
        yield Site(node, node.operand, "sign or operation")
    elif isinstance(node, ast.Constant):
        yield from _constant(node, parent, field)
    elif isinstance(node, ast.Attribute) and node.attr in _SWAPPED_ENDS and isinstance(node.ctx, ast.Load):
        yield Site(node, ast.Attribute(node.value, _SWAPPED_ENDS[node.attr], node.ctx), "end swapped")
    elif isinstance(node, ast.Name) and node.id in _SWAPPED_NAMES and isinstance(node.ctx, ast.Load):
        yield Site(node, ast.Name(_SWAPPED_NAMES[node.id], node.ctx), "function swapped")
    elif isinstance(node, ast.Tuple) and len(node.elts) == 2 and isinstance(node.ctx, ast.Load):
        if field != "slice" and not (_is_text(node.elts[0]) and _is_text(node.elts[1])):
            yield Site(node, ast.Tuple(node.elts[::-1], node.ctx), "end swapped")
    elif isinstance(node, ast.IfExp):
        yield Site(node, ast.IfExp(node.test, node.orelse, node.body), "branches swapped")
    elif isinstance(node, ast.comprehension):
        for condition in node.ifs:
            yield Site(condition, ast.Constant(True), "condition dropped")
    elif isinstance(node, ast.Call):
        yield from _call(node)
    if isinstance(node, (ast.If, ast.While)):
        yield Site(node.test, ast.Constant(False), "branch never taken")
        if isinstance(node, ast.If):
            yield Site(node.test, ast.Constant(True), "branch always taken")
    elif isinstance(node, ast.AugAssign):
        if type(node.op) in _SIGN:
            yield Site(node, ast.AugAssign(node.target, _SIGN[type(node.op)](), node.value), "sign or operation")
        yield Site(node, ast.Pass(), "statement dropped")
    elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield Site(node, ast.Pass(), "statement dropped")
    elif isinstance(node, ast.Return) and node.value is not None:
        constants = {"bool": (True, False), "float": (0.0,), "int": (0,), "str": ("",)}.get(returns, ())
        for constant in constants:
            if not (isinstance(node.value, ast.Constant) and node.value.value == constant):
                yield Site(node.value, ast.Constant(constant), "constant returned")


def _is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.JoinedStr) or isinstance(node, ast.Constant) and isinstance(node.value, str)


def _constant(node: ast.Constant, parent: ast.AST, field: str) -> Iterator[Site]:
    value = node.value
    if isinstance(value, bool):
        yield Site(node, ast.Constant(not value), "constant turned")
    elif isinstance(value, int):
        if field == "slice" or isinstance(parent, (ast.Slice, ast.Subscript)):
            yield Site(node, ast.Constant(0 if value == 1 else value + 1), "index")
        else:
            yield Site(node, ast.Constant(value + 1), "factor")
    elif isinstance(value, float) and (value == 0.0 or abs(value) >= SMALLEST):
        yield Site(node, ast.Constant(1.25 * value if value else 1.0), "factor")


def _call(node: ast.Call) -> Iterator[Site]:
    name = node.func.id if isinstance(node.func, ast.Name) else ""
    if name in _ARGUMENTS_STAY:
        return
    given = node.args
    for k in range(len(given) - 1):
        one, other = given[k], given[k + 1]
        if isinstance(one, ast.Starred) or isinstance(other, ast.Starred) or ast.dump(one) == ast.dump(other):
            continue
        if name not in ("min", "max"):
            new = ast.Call(node.func, [*given[:k], other, one, *given[k + 2 :]], node.keywords)
            yield Site(node, new, "arguments swapped")
    for k in range(len(node.keywords) - 1):
        first, second = node.keywords[k], node.keywords[k + 1]
        if first.arg is None or second.arg is None or ast.dump(first.value) == ast.dump(second.value):
            continue
        swapped = [ast.keyword(first.arg, second.value), ast.keyword(second.arg, first.value)]
        new = ast.Call(node.func, given, [*node.keywords[:k], *swapped, *node.keywords[k + 2 :]])
        yield Site(node, new, "arguments swapped")
    if name in ("min", "max") and len(given) > 1 and not any(isinstance(one, ast.Starred) for one in given):
        for k in range(len(given)):
            rest = [*given[:k], *given[k + 1 :]]
            yield Site(node, rest[0] if len(rest) == 1 else ast.Call(node.func, rest, node.keywords), "term dropped")


def mutations(group: str, function: str, path: Path, node: ast.FunctionDef, source: bytes) -> list[Mutation]:
    """Every mutation of one function, in the order of its source."""
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    returns = ast.unparse(node.returns) if node.returns is not None else ""
    parents = {id(child): (parent, name, index) for parent, name, index, child in _expressions(node)}
    found: list[Mutation] = []
    count: dict[str, int] = {}
    for parent, name, _, child in _expressions(node):
        for site in _sites(child, parent, name, returns):
            text = ast.unparse(ast.fix_missing_locations(copy.deepcopy(site.new)))
            label = _label(site, parents)
            count[label] = count.get(label, 0) + 1
            if count[label] > 1:
                label += f" ({count[label]})"
            at = site.node
            assert at.end_lineno is not None and at.end_col_offset is not None
            start, end = starts[at.lineno - 1] + at.col_offset, starts[at.end_lineno - 1] + at.end_col_offset
            planted = text if isinstance(site.new, ast.stmt) else f"({text})"
            found.append(Mutation(group, function, site.kind, path, at.lineno, start, end, planted, label))
    return found


def _label(site: Site, parents: dict[int, tuple[ast.AST, str, int | None]]) -> str:
    """The nearest expression that says something, before and after."""
    node: Any = site.node
    before, after = ast.unparse(node), ast.unparse(ast.fix_missing_locations(copy.deepcopy(site.new)))
    top: Any = node
    while len(before) < 12 and id(top) in parents and isinstance(parents[id(top)][0], (ast.expr, ast.keyword)):
        top = parents[id(top)][0]
        before = ast.unparse(top)
        parent, name, index = parents[id(node)]
        _put(parent, name, index, site.new)
        after = ast.unparse(ast.fix_missing_locations(copy.deepcopy(top)))
        _put(parent, name, index, node)
    if isinstance(site.new, ast.Constant) and site.kind.startswith("branch"):
        return f"if {before} => if {after}"
    return f"{before} => {after}"


def _put(parent: Any, name: str, index: int | None, child: ast.AST) -> None:
    if index is None:
        setattr(parent, name, child)
    else:
        getattr(parent, name)[index] = child


# --------------------------------------------------------------------------------------------------- where it stands


def functions_of(package: Path) -> dict[str, list[tuple[Path, ast.FunctionDef]]]:
    """Every function and method of a package by its name, methods as `Class.method`."""
    found: dict[str, list[tuple[Path, ast.FunctionDef]]] = {}
    for path in sorted(package.rglob("*.py")):
        for name, node in named(ast.parse(sound_source(path))).items():
            found.setdefault(name, []).append((path, node))
    return found


def named(tree: ast.Module) -> dict[str, ast.FunctionDef]:
    """The functions of a module and the methods of its classes by name."""
    found = {}
    for node in tree.body:
        inside = [(f"{node.name}.", one) for one in node.body] if isinstance(node, ast.ClassDef) else [("", node)]
        for before, one in inside:
            if isinstance(one, ast.FunctionDef):
                found[before + one.name] = one
    return found


def located(target: Target, functions: dict[str, list[tuple[Path, ast.FunctionDef]]], group: str) -> dict[str, Any]:
    """Where each function of a target is; of several with one name, the one beside most of the others."""
    weight: dict[Path, int] = {}
    for name in target.functions:
        for path, _ in functions.get(name, ()):
            weight[path] = weight.get(path, 0) + 1
    found = {}
    for name in target.functions:
        if name not in functions:
            sys.exit(f"{group}: no function {name} in {PACKAGE}/: write its new name into TARGETS")
        found[name] = max(functions[name], key=lambda place: weight[place[0]])
    return found


def test_files(root: Path, group: str, whole: bool) -> list[str]:
    """The test files that have to see the mutants of a group, relative to the root; the folder where none is named."""
    target = TARGETS[group]
    near = sorted({path for pattern in target.near for path in (root / target.folder).glob(pattern)})
    if whole or not near:
        return [target.folder] if (root / target.folder).is_dir() else []
    return [str(path.relative_to(root)) for path in near]


# --------------------------------------------------------------------------------------------------------- running it


class Run(NamedTuple):
    """How the tests of one mutant ended: which failed first, '' for none; processor times of those that ran [s]."""

    failed: str
    how: str  # '' | 'test' | 'import' | 'time' | 'crash'
    seconds: float  # processor time
    times: dict[str, float]


class _Watch:
    """Plugin: the quick tests first, the first that fails noted, the time of each."""

    def __init__(self, pipe: int, order: dict[str, float], longest: float = math.inf) -> None:
        self.pipe, self.order, self.longest, self.began = pipe, order, longest, 0.0

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        items[:] = [item for item in items if self.order.get(item.nodeid, 0.0) <= self.longest]
        items.sort(key=lambda item: self.order.get(item.nodeid, 0.0))

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self.began = sum(os.times()[:4])
        if nodeid in self.order:  # a mutant that never ends is ended here; SIGPROF counts processor time
            signal.setitimer(signal.ITIMER_PROF, 2.0 + 10.0 * self.order[nodeid])

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed:
            os.write(self.pipe, f"failed\t{report.nodeid}\n".encode())
        elif report.when == "call":
            os.write(self.pipe, f"time\t{sum(os.times()[:4]) - self.began:.2f}\t{report.nodeid}\n".encode())


class _Swap:
    """Plugin: after the tests were collected on the sound code, one fork for each mutant, its function's code swapped.

    Collecting costs more than a test that fails at once. A mutant that lives is run again planted in the file, by
    `Bench`: what tests worked out while they were collected, and what other processes see, comes from there.
    """

    def __init__(self, pipe: int, mutants: list[Mutation], limit: float, watch: _Watch) -> None:
        self.pipe, self.mutants, self.limit, self.watch = pipe, mutants, limit, watch

    def pytest_runtestloop(self, session: Any) -> bool:
        from _pytest.main import pytest_runtestloop as tests_one_by_one

        def mutant(mutation: Mutation, pipe: int) -> int:
            limit_processor(self.limit)
            swap_code(mutation)
            self.watch.pipe = pipe
            try:
                tests_one_by_one(session)
            except session.Failed:
                return 1
            return 1 if session.testsfailed else 0

        for k, mutation in enumerate(self.mutants):
            run = forked(lambda pipe, one=mutation: mutant(one, pipe), 60.0 + 20.0 * self.limit)
            os.write(self.pipe, f"{k}\t{run.how}\t{run.failed}\n".encode())
        return True


def swap_code(mutation: Mutation) -> None:
    """Give the function that is loaded the code of the mutant: whoever holds the function then runs the mutant."""
    source = mutated_source(mutation)
    name = ".".join(mutation.path.relative_to(ROOT).with_suffix("").parts)
    held: Any = importlib.import_module(name)
    for part in mutation.function.split("."):
        held = vars(held)[part]
    held = getattr(held, "fget", None) or getattr(held, "__func__", None) or held
    held = inspect.unwrap(held)
    node = named(ast.parse(source))[mutation.function]
    held.__defaults__ = tuple(_default(one, held) for one in node.args.defaults) or None
    pairs = zip(node.args.kwonlyargs, node.args.kw_defaults, strict=True)
    held.__kwdefaults__ = {key.arg: _default(one, held) for key, one in pairs if one is not None} or None
    codes = [compile(source, str(mutation.path), "exec", dont_inherit=True)]
    while codes:
        code = codes.pop()
        if code.co_qualname == mutation.function:
            held.__code__ = code
            return
        codes += [one for one in code.co_consts if inspect.iscode(one)]
    raise RuntimeError(f"no code of {mutation.function} in the mutant")


@cache
def sound_source(path: Path) -> bytes:
    """A module as it was when this run began: you may go on writing in the checkout."""
    return path.read_bytes()


def _default(node: ast.expr, held: Any) -> Any:
    return eval(compile(ast.Expression(node), "default", "eval"), held.__globals__)


def mutated_source(mutation: Mutation) -> bytes:
    source = sound_source(mutation.path)
    return source[: mutation.start] + mutation.text.encode() + source[mutation.end :]


def limit_processor(seconds: float) -> None:
    """Limits on processor time and memory of this process."""
    limit = int(seconds) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
    resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))


def started(work: Callable[[int], int]) -> tuple[int, int]:
    """Number of a forked process that does `work` with the end of a pipe to write to, and the end to read from."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        code = 3
        try:
            signal.signal(signal.SIGTERM, signal.SIG_DFL)
            os.close(read)
            code = int(work(write))
        except BaseException as error:  # the process must end here, whatever happens
            os.write(write, f"failed\t{type(error).__name__}: {str(error)[:200]!r}\n".encode())
        finally:
            os._exit(code)
    os.close(write)
    return child, read


def forked(work: Callable[[int], int], wall: float) -> Run:
    """What the tests of a forked process came to; it is ended after `wall` seconds."""
    child, read = started(work)
    timer = signal.signal(signal.SIGALRM, lambda *_: os.kill(child, signal.SIGKILL))
    signal.alarm(int(wall) + 1)
    with os.fdopen(read, "rb") as pipe:
        lines = pipe.read().decode(errors="replace").splitlines()
    _, status, usage = os.wait4(child, 0)
    signal.alarm(0)
    signal.signal(signal.SIGALRM, timer)
    failed, times = "", {}
    for line in lines:
        word, _, rest = line.partition("\t")
        if word == "time":
            taken, _, name = rest.partition("\t")
            times[name] = float(taken)
        elif word == "failed":
            failed = failed or rest
    if os.WIFSIGNALED(status):
        how = "time" if os.WTERMSIG(status) in (signal.SIGPROF, signal.SIGXCPU, signal.SIGKILL) else "crash"
    else:
        how = {0: "", 1: "test", 2: "import"}.get(os.WEXITSTATUS(status), "crash")
    return Run(failed, how, usage.ru_utime + usage.ru_stime, times)


def _pytest(root: Path, files: list[str], plugins: list[Any]) -> int:
    """The tests of the copy in this process, which must be a fork."""
    import pytest

    os.chdir(root)
    log = os.open(root / "mutants.log", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(log, 1)
    os.dup2(log, 2)
    sys.path[:] = [str(root), *(one for one in sys.path if Path(one or ".").resolve() not in (ROOT, ROOT / "tools"))]
    os.environ["PYTHONPATH"] = str(root)
    found = importlib.util.find_spec(PACKAGE)
    if found is None or not str(found.origin).startswith(str(root)):
        raise RuntimeError(f"{PACKAGE} was found at {found.origin if found else None}, not in the copy")
    options = [
        "-o",
        "addopts=",
        "-x",
        "-q",
        "-p",
        "no:cacheprovider",
        "--no-header",
        "--tb=short",
        f"--basetemp={root.parent / 'tmp'}",
    ]
    return pytest.main([*options, *files], plugins=plugins)


def _loaded() -> None:
    """Load once what every run needs, so that a fork has it; nothing of the package itself."""
    os.environ.update(OPENBLAS_NUM_THREADS="1", HYPOTHESIS_STORAGE_DIRECTORY=tempfile.gettempdir())
    for name in ("pytest", "_pytest.assertion.rewrite", "hypothesis", "yaml", "jinja2", "rich.console"):
        try:
            importlib.import_module(name)
        except ImportError:
            continue


class Bench:
    """A copy of the checkout in which one mutant at a time is planted."""

    def __init__(self, folder: Path, whole: bool, quick: bool) -> None:
        self.root, self.whole, self.quick = folder / "copy", whole, quick
        shutil.copytree(ROOT, self.root, symlinks=True, ignore=shutil.ignore_patterns(*NOT_COPIED))
        self.turn = 0
        self.order: dict[str, dict[str, float]] = {}
        self.limit: dict[str, float] = {}

    def prepare(self, group: str) -> bool:
        """Run the group's tests on the sound code: they must pass. False where there are none."""
        files = test_files(self.root, group, self.whole)
        if not files:
            print(f"# {group}: there are no tests in {TARGETS[group].folder}: every mutant lives")
            return False
        sound = forked(lambda pipe: _pytest(self.root, files, [_Watch(pipe, {})]), 3600.0)
        if sound.how:
            print((self.root / "mutants.log").read_text()[-3000:])
            sys.exit(f"{group}: the tests do not pass on the sound code ({sound.failed or sound.how})")
        self.order[group], self.limit[group] = sound.times, 10.0 + 4.0 * sound.seconds
        print(f"# {group}: {len(sound.times)} tests of {', '.join(files)} in {sound.seconds:.1f} s", flush=True)
        return True

    def each(self, group: str, mutants: list[Mutation]) -> Iterator[tuple[Mutation, Run]]:
        """How the tests end for each mutant: code swapped first, planted in the file where that killed nothing."""
        files, limit = test_files(self.root, group, self.whole), self.limit[group]

        def swapped(pipe: int) -> int:
            watch = _Watch(pipe, self.order[group], QUICK if self.quick else math.inf)
            return _pytest(self.root, files, [watch, _Swap(pipe, mutants, limit, watch)])

        child, read = started(swapped)
        done = 0
        with os.fdopen(read, "r", errors="replace") as pipe:
            for line in pipe:
                number, how, failed = line.rstrip("\n").split("\t", 2)
                mutation = mutants[int(number)]
                done += 1
                # a mutant that cannot be swapped, or ends otherwise than by a test, is planted as well
                certain = how in ("test", "time") or (self.quick and not how)
                yield mutation, Run(failed, how, 0.0, {}) if certain else self.planted(mutation)
        os.waitpid(child, 0)
        for mutation in mutants[done:]:
            yield mutation, self.planted(mutation)

    def planted(self, mutation: Mutation) -> Run:
        """Run the tests with one mutant in the file."""
        path = self.root / mutation.path.relative_to(ROOT)
        sound = path.read_bytes()
        self._write(path, mutated_source(mutation))
        files, limit = test_files(self.root, mutation.group, self.whole), self.limit[mutation.group]

        def run(pipe: int) -> int:
            limit_processor(limit)
            return _pytest(self.root, files, [_Watch(pipe, self.order[mutation.group])])

        try:
            return forked(run, 60.0 + 20.0 * limit)
        finally:
            self._write(path, sound)

    def _write(self, path: Path, source: bytes) -> None:
        """Write with a time of its own: a compiled file is told to be stale by size and whole seconds."""
        path.write_bytes(source)
        self.turn += 1
        os.utime(path, (1e9 + self.turn, 1e9 + self.turn))


# ---------------------------------------------------------------------------------------------------------- reporting


def equivalents(path: Path) -> dict[tuple[str, str, str], str]:
    """The argument why a mutation changes nothing, by group, function and label."""
    import yaml

    listed: dict[tuple[str, str, str], str] = {}
    for group, functions in (yaml.safe_load(path.read_text(encoding="utf-8")) or {}).items():
        for function, entries in functions.items():
            for entry in entries:
                if not entry["because"].strip():
                    sys.exit(f"{path.name}: {function}: an equivalent mutation needs an argument under `because`")
                for label in entry["mutations"]:
                    listed[group, function, label] = entry["because"]
    return listed


def difference(mutation: Mutation) -> str:
    old, new = (one.decode().splitlines() for one in (sound_source(mutation.path), mutated_source(mutation)))
    lines = difflib.unified_diff(old, new, lineterm="", n=0)
    return "\n".join(f"    {line}" for line in lines if not line.startswith(("---", "+++", "@@")))


class Tally(NamedTuple):
    planted: int = 0
    killed: int = 0
    equivalent: int = 0

    def __str__(self) -> str:
        share = f"{self.killed / self.planted:7.0%}" if self.planted else "       "
        return f"{self.planted:7} {self.killed:7} {self.planted - self.killed:9} {self.equivalent:11} {share}"

    def plus(self, other: Tally) -> Tally:
        return Tally(*(one + two for one, two in zip(self, other, strict=True)))


def table(tallies: dict[tuple[str, str], Tally]) -> Iterator[str]:
    """Lines: each function, each group, everything. Share of those planted; equivalents stand apart."""
    width = max((len(function) for _, function in tallies), default=0) + 2
    yield f"\n{'':{width}} planted  killed  survived  equivalent   share"
    whole = Tally()
    for group in dict.fromkeys(group for group, _ in tallies):
        own = Tally()
        for (of, function), tally in tallies.items():
            if of == group:
                yield f"  {function:{width - 2}} {tally}"
                own = own.plus(tally)
        yield f"{group:{width}} {own}"
        whole = whole.plus(own)
    yield f"{'all':{width}} {whole}"


def chosen(every: list[Mutation], number: str, seed: int) -> list[Mutation]:
    """So many of each function, the same at every run with the same seed."""
    if number == "all":
        return every
    picked: list[Mutation] = []
    for function in dict.fromkeys(one.function for one in every):
        own = [one for one in every if one.function == function]
        chance = random.Random(f"{seed} {function}")
        picked += sorted(chance.sample(own, min(int(number), len(own))), key=lambda one: one.start)
    return picked


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("-g", "--group", action="append", choices=TARGETS, help="only this group; may be repeated")
    parser.add_argument("-f", "--function", action="append", help="only this function; may be repeated")
    parser.add_argument("-n", "--number", default="12", help="mutants of each function, or `all`")
    parser.add_argument("-s", "--seed", type=int, default=1, help="of the choice")
    parser.add_argument("--whole-folder", action="store_true", help="run all tests of the folder, not the near ones")
    parser.add_argument("--quick", action="store_true", help=f"leave out tests longer than {QUICK} s: a lower bound")
    parser.add_argument("--equivalents", action="store_true", help="run the listed equivalents instead: none may die")
    parser.add_argument("--list", action="store_true", help="print the mutations and run nothing")
    parser.add_argument("--killed", action="store_true", help="print the killed as well, with the test that saw them")
    return parser.parse_args()


def wanted(asked: argparse.Namespace) -> dict[str, list[Mutation]]:
    """The mutations asked for, by group."""
    functions = functions_of(ROOT / PACKAGE)
    found: dict[str, list[Mutation]] = {}
    for group in asked.group or TARGETS:
        every: list[Mutation] = []
        for name, (path, node) in located(TARGETS[group], functions, group).items():
            if not asked.function or name in asked.function:
                every += mutations(group, name, path, node, sound_source(path))
        if every:
            found[group] = every
    return found


def main() -> int:
    asked = arguments()
    listed = equivalents(EQUIVALENT)
    groups = wanted(asked)
    for key in _stale(listed, groups, asked.function):
        print(f"# {EQUIVALENT.name}: no such mutation any more: {': '.join(key)}")
    for group, every in groups.items():
        if not asked.equivalents:
            groups[group] = chosen(every, asked.number, asked.seed)
        else:
            groups[group] = [one for one in every if (one.group, one.function, one.label) in listed]
    if asked.list:
        for one in (one for own in groups.values() for one in own):
            apart = "  (equivalent)" if (one.group, one.function, one.label) in listed else ""
            print(
                f"{one.group}  {one.function}  {one.path.relative_to(ROOT)}:{one.line}  {one.kind}{apart}\n"
                f"    {one.label}"
            )
        return 0
    _loaded()
    signal.signal(signal.SIGTERM, _stopped)
    tallies: dict[tuple[str, str], Tally] = {}
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        bench = Bench(Path(folder), asked.whole_folder, asked.quick)
        try:
            for group, own in groups.items():
                _run_group(bench, group, own, listed, asked, tallies)
        except KeyboardInterrupt:
            print("stopped; so far:")
    print("\n".join(table(tallies)))
    if asked.equivalents:
        return 1 if any(tally.killed for tally in tallies.values()) else 0
    whole = sum_of(tallies.values())
    return 0 if whole.killed >= LEAST * whole.planted else 1


def _stopped(*_: object) -> None:
    """The temporary folder goes, and what was seen so far is printed."""
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    raise KeyboardInterrupt


def sum_of(tallies: Iterable[Tally]) -> Tally:
    whole = Tally()
    for one in tallies:
        whole = whole.plus(one)
    return whole


def _stale(
    listed: dict[tuple[str, str, str], str], groups: dict[str, list[Mutation]], functions: list[str] | None
) -> Iterator[tuple[str, str, str]]:
    there = {(one.group, one.function, one.label) for own in groups.values() for one in own}
    for key in listed:
        if key not in there and key[0] in groups and (not functions or key[1] in functions):
            yield key


def _run_group(
    bench: Bench,
    group: str,
    own: list[Mutation],
    listed: dict[tuple[str, str, str], str],
    asked: argparse.Namespace,
    tallies: dict[tuple[str, str], Tally],
) -> None:
    say: Callable[[str], None] = lambda text: print(text, flush=True)  # noqa: E731
    tests = bench.prepare(group)
    run_on = []
    for one in own:
        apart = (one.group, one.function, one.label) in listed and not asked.equivalents
        key = group, one.function
        tallies[key] = tallies.get(key, Tally()).plus(Tally(0, 0, int(apart)))
        if not apart:
            run_on.append(one)
    ended = bench.each(group, run_on) if tests else ((one, Run("", "", 0.0, {})) for one in run_on)
    for one, run in ended:
        key = group, one.function
        tallies[key] = tallies[key].plus(Tally(1, int(bool(run.how)), 0))
        place = f"{one.path.relative_to(ROOT)}:{one.line}"
        if run.how and (asked.killed or asked.equivalents):
            say(f"killed    {group}  {one.function}  {place}  {one.kind}  by {run.failed or run.how}\n  {one.label}")
        elif not run.how and not asked.equivalents:
            say(f"survived  {group}  {one.function}  {place}  {one.kind}\n  {one.label}\n{difference(one)}")


if __name__ == "__main__":
    sys.exit(main())
