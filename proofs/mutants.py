"""Mutation run: small faults are put into the modules that clear, credit and count, and a test has to fail.

From the top folder::

    python -m proofs.mutants --sample 200 --seed 1

A mutant is one change of one place in one module: a comparison turned or moved by its boundary, a number one
more or less, ``and`` for ``or``, a ``not`` dropped, a sign turned, two arguments swapped, a statement
removed. Each runs against the tests of its module in a copy of the tree, in a process that was forked when
the outside libraries were already loaded: most of what a run of pytest costs is loading them, which is why
this is a program of our own and not a general tool that starts Python for every mutant.

Every result is a line of ``--out``; a run that was stopped goes on where it was. What survives is listed at
the end: each is a missing test, or changes nothing that anybody could see and is then named in
:data:`EQUIVALENT`.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib
import json
import multiprocessing
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TARGETS: dict[str, tuple[str, ...]] = {
    "spread/decisions/standing.py": ("test_standing", "test_effort", "test_ring"),
    "spread/decisions/case/clearance.py": ("test_followup", "test_findings"),
    "spread/posterior/looks.py": ("test_observations", "test_findings", "test_seeing"),
    "spread/posterior/observations.py": ("test_observations", "test_findings"),
    "spread/decisions/doors/ranking.py": ("test_doors", "test_asked", "test_benefit"),
    "spread/programmes/money.py": ("test_prices", "test_programmes_results"),
}
"""Modules and the files of ``tests/`` that answer for them, quick ones first."""
_UNUSED = "a default that is read only where the setting is given"
EQUIVALENT: dict[str, str] = {
    "spread/programmes/money.py: 12.0 -> (13.0)": _UNUSED,
    "spread/programmes/money.py: 12.0 -> (11.0)": _UNUSED,
    **dict.fromkeys(
        (
            "spread/posterior/observations.py: "
            "treated[where] < record.when -> (treated[where] <= record.when)",
            "spread/posterior/observations.py: treated_on[i] < record.when -> (treated_on[i] <= record.when)",
        ),
        "rows of one day are sorted looks first, so that no look meets a treatment of its own day",
    ),
    "spread/decisions/case/clearance.py: r.is_look and r.found == \"unsure\" -> (r.found == 'unsure')": (
        "any other row that is unsure is a report, which is the later name of the same day"
    ),
    **dict.fromkeys(
        (
            "spread/decisions/case/clearance.py: "
            'row.kind != "monitor" or row.found != "no" -> (row.kind != \'monitor\')',
            'spread/decisions/case/clearance.py: row.kind != "inspection" or row.method not in BY_EYE or '
            "row.found != \"no\" -> (row.kind != 'inspection' or row.method not in BY_EYE)",
        ),
        "every look after the last sign found nothing; a safety device asks all the same",
    ),
}
"""Mutants that nobody could tell from the program, by ``module: before -> after``, and why."""
HEAVY = (
    "numpy",
    "numba",
    "networkx",
    "shapely",
    "scipy.stats",
    "hypothesis",
    "pytest",
    "holidays",
    "openpyxl",
)
"""Outside libraries that are loaded once, before the forks."""
SLACK, LEAST_WAIT = 8.0, 30.0
"""A mutant may take so many times what the tests take without a fault, and at least so many seconds."""
COMPARE: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
}
BINARY: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.Pow: ast.Mult,
}


@dataclass(frozen=True)
class Mutant:
    """One change: ``start`` to ``end`` are bytes of the file, ``after`` stands in their place."""

    module: str
    line: int
    kind: str
    start: int
    end: int
    before: str
    after: str

    @property
    def name(self) -> str:
        """What :data:`EQUIVALENT` calls it: without its line, which other changes move."""
        return f"{self.module}: {self.before} -> {self.after}"


def mutants_of(module: str, source: str) -> list[Mutant]:
    """Return every mutant of a module in the order of the text.

    Annotations, docstrings, messages of raised errors and texts for people are left alone: a test that pins
    every word would forbid better words.
    """
    if "njit" in source:
        raise ValueError(f"{module} holds compiled functions: each mutant would be compiled anew")
    data = source.encode()
    starts = [0]
    for text in data.splitlines(keepends=True):
        starts.append(starts[-1] + len(text))
    found = {}
    for node, kind, after in _changes(ast.parse(source)):
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[node.end_lineno - 1] + node.end_col_offset
        before = data[start:end].decode()
        changed = data[:start] + after.encode() + data[end:]
        try:
            same = ast.dump(ast.parse(changed)) == ast.dump(ast.parse(source))
        except SyntaxError:
            continue
        if not same:
            found[start, end, after] = Mutant(module, node.lineno, kind, start, end, before, after)
    return [found[key] for key in sorted(found)]


def _changes(tree: ast.Module) -> Iterator[tuple[ast.expr | ast.stmt, str, str]]:
    """Yield node, kind of change and the text that takes its place."""
    for node in _places(tree):
        for kind, other in _others(node):
            text = ast.unparse(other)
            yield node, kind, f"({text})" if isinstance(node, ast.expr) else text


def _places(node: ast.AST) -> Iterator[ast.expr | ast.stmt]:
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or isinstance(child, ast.Raise | ast.JoinedStr | ast.Import):
                continue
            if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
                continue
            if isinstance(child, ast.expr | ast.stmt):
                yield child
            yield from _places(child)


def _others(node: ast.expr | ast.stmt) -> Iterator[tuple[str, ast.expr | ast.stmt]]:  # noqa: PLR0912
    """Yield what may stand instead of a node."""
    match node:
        case ast.Compare():
            for place, op in enumerate(node.ops):
                for new in COMPARE[type(op)]:
                    yield "comparison", _with(node, "ops", place, new())
        case ast.BoolOp():
            yield "and, or", ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
            for place in range(len(node.values)):
                rest = [value for k, value in enumerate(node.values) if k != place]
                yield "part dropped", rest[0] if len(rest) == 1 else ast.BoolOp(node.op, rest)
        case ast.UnaryOp(op=ast.Not() | ast.USub() | ast.Invert()):
            yield "sign or not dropped", node.operand
        case ast.BinOp() if type(node.op) in BINARY:
            yield "sign", ast.BinOp(node.left, BINARY[type(node.op)](), node.right)
        case ast.Constant(value=bool()):
            yield "constant", ast.Constant(not node.value)
        case ast.Constant(value=int() | float()):
            yield "one more", ast.Constant(node.value + 1)
            yield "one less", ast.Constant(node.value - 1)
        case ast.IfExp():
            yield "branches swapped", ast.IfExp(node.test, node.orelse, node.body)
        case ast.Call(func=ast.Name(id="max" | "min") | ast.Attribute(attr="maximum" | "minimum")):
            return  # the order of their arguments says nothing
        case ast.Call(args=[first, second, *_]) if not isinstance(first, ast.Starred):
            if not isinstance(second, ast.Starred):
                yield "arguments swapped", _with(_with(node, "args", 0, second), "args", 1, first)
        case ast.AugAssign() | ast.Continue() | ast.Break() | ast.Expr(value=ast.Call()):
            yield "statement removed", ast.Pass()
        case ast.Assign(targets=[ast.Subscript()]):
            yield "statement removed", ast.Pass()


def _with(node: ast.expr, field: str, place: int, value: ast.AST) -> ast.expr:
    other = copy.deepcopy(node)
    getattr(other, field)[place] = value
    return other


def sampled(count: int, seed: int, only: Sequence[str] = ()) -> list[Mutant]:
    """Return a sample of all mutants of :data:`TARGETS`, the same for the same seed and sources."""
    every = [
        mutant
        for module in TARGETS
        for mutant in mutants_of(module, (ROOT / module).read_text(encoding="utf-8"))
        if mutant.name not in EQUIVALENT
    ]
    chosen = every if count >= len(every) else random.Random(seed).sample(every, count)
    return [mutant for mutant in chosen if not only or any(word in mutant.module for word in only)]


def _pytest(tree: Path, module: str) -> int:
    """Run the tests of a module in a forked process; never returns to the caller's stack."""
    os.chdir(tree)
    os.setsid()
    with open(os.devnull, "w") as nowhere:  # noqa: PTH123
        os.dup2(nowhere.fileno(), 1)
        os.dup2(nowhere.fileno(), 2)
    sys.dont_write_bytecode = True
    sys.path[:] = [str(tree), str(tree / "tests"), *(p for p in sys.path if Path(p or ".").resolve() != ROOT)]
    for name in [name for name in sys.modules if name.split(".")[0] in ("spread", "dashboard", "proofs")]:
        del sys.modules[name]
    import pytest

    files = [f"tests/{name}.py" for name in TARGETS[module]]
    return int(pytest.main(["-q", "-x", "-p", "no:cacheprovider", "--hypothesis-seed=0", *files]))


def _code_of(tree: Path, module: str, wait: float) -> int | None:
    """Return the exit code of a module's tests, or None where they took too long."""
    child = os.fork()
    if child == 0:
        code = 70
        try:
            code = _pytest(tree, module)
        finally:
            os._exit(code)
    began = time.monotonic()
    while time.monotonic() - began < wait:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def _work(
    mutants: Sequence[Mutant], tree: Path, told: multiprocessing.SimpleQueue[dict[str, object]]
) -> None:
    """Run mutants one after the other in a copy of the tree, and tell of each."""
    shutil.copytree(ROOT, tree, ignore=shutil.ignore_patterns(".git", ".venv", ".hypothesis", "*_cache"))
    waits: dict[str, float] = {}
    for mutant in mutants:
        file = tree / mutant.module
        # Written back with its old time, so that nothing compiled is thrown away; hence no bytecode of it.
        was, data = file.stat(), file.read_bytes()
        for kept in (file.parent / "__pycache__").glob(f"{file.stem}.*.pyc"):
            kept.unlink()
        if mutant.module not in waits:
            began = time.monotonic()
            code = _code_of(tree, mutant.module, 3600.0)
            if code != 0:
                told.put({"stop": f"the tests of {mutant.module} fail without any mutant (exit code {code})"})
                return
            waits[mutant.module] = max(LEAST_WAIT, SLACK * (time.monotonic() - began))
        file.write_bytes(data[: mutant.start] + mutant.after.encode() + data[mutant.end :])
        os.utime(file, ns=(was.st_atime_ns, was.st_mtime_ns))
        began = time.monotonic()
        code = _code_of(tree, mutant.module, waits[mutant.module])
        file.write_bytes(data)
        os.utime(file, ns=(was.st_atime_ns, was.st_mtime_ns))
        result = "survived" if code == 0 else "too long" if code is None else "killed"
        told.put({**asdict(mutant), "result": result, "seconds": round(time.monotonic() - began, 2)})
    told.put({})


def run(mutants: Sequence[Mutant], out: Path, workers: int) -> dict[Mutant, str]:
    """Run what ``out`` does not know yet; return the result of each mutant."""
    results: dict[Mutant, str] = {}
    if out.exists():
        for text in out.read_text(encoding="utf-8").splitlines():
            row = json.loads(text)
            row.pop("seconds")
            result = row.pop("result")
            results[Mutant(**row)] = result
    left = [mutant for mutant in mutants if mutant not in results]
    for name in HEAVY:
        importlib.import_module(name)
    fork = multiprocessing.get_context("fork")
    told = fork.SimpleQueue()
    workers = max(1, min(workers, len(left)))
    with tempfile.TemporaryDirectory() as folder, out.open("a", encoding="utf-8") as file:
        crew = [
            fork.Process(target=_work, args=(left[k::workers], Path(folder) / f"tree{k}", told))
            for k in range(workers)
        ]
        for one in crew:
            one.start()
        try:
            while workers:
                row = told.get()
                if "stop" in row:
                    raise SystemExit(str(row["stop"]))
                if not row:
                    workers -= 1
                    continue
                file.write(json.dumps(row) + "\n")
                file.flush()
                result, seconds = str(row.pop("result")), row.pop("seconds")
                mutant = Mutant(**row)  # type: ignore[arg-type]
                results[mutant] = result
                print(f"{result:9} {seconds:6} s  {mutant.module}:{mutant.line}  {mutant.kind}", flush=True)
        finally:
            for one in crew:
                one.terminate()
                one.join()
    return {mutant: results[mutant] for mutant in mutants}


def say(results: dict[Mutant, str]) -> str:
    """Return the score, by module and in all, and the survivors."""
    lines = []
    for module in TARGETS:
        told = Counter(result for mutant, result in results.items() if mutant.module == module)
        if told:
            lines.append(f"{module}: {told.total() - told['survived']} of {told.total()} killed")
    alive = [mutant for mutant, result in results.items() if result == "survived"]
    for mutant in sorted(alive, key=lambda m: (m.module, m.line)):
        lines += ["", f"{mutant.module}:{mutant.line}  {mutant.kind}"]
        lines += [f"  - {mutant.before}", f"  + {mutant.after}"]
    killed = len(results) - len(alive)
    lines += ["", f"{killed} of {len(results)} mutants killed: {killed / max(1, len(results)):.1%}"]
    return "\n".join(lines)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the mutants; exit code 1 where fewer than ``--least`` are killed."""
    parser = argparse.ArgumentParser(prog="python -m proofs.mutants", description=__doc__.split("\n")[0])
    parser.add_argument("--sample", type=int, default=200, help="how many mutants (200)")
    parser.add_argument("--seed", type=int, default=1, help="which sample (1)")
    parser.add_argument("--only", action="append", default=[], help="only modules with this in their path")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1, help="processes at once")
    parser.add_argument("--least", type=float, default=0.85, help="share that must be killed (0.85)")
    parser.add_argument(
        "--out",
        type=Path,
        default=Path("build/mutants.jsonl"),
        help="results, a line each; a run goes on there",
    )
    asked = parser.parse_args(argv)
    asked.out.parent.mkdir(parents=True, exist_ok=True)
    began = time.monotonic()
    results = run(sampled(asked.sample, asked.seed, asked.only), asked.out, asked.workers)
    print(say(results), f"({time.monotonic() - began:.0f} s)")
    alive = sum(result == "survived" for result in results.values())
    return int(alive > (1 - asked.least) * len(results))


if __name__ == "__main__":
    sys.exit(main())
