"""Flips every comparison operator of the core, one at a time, and asks whether a test notices.

``python -m tests.tools.flips [FILE ...]`` takes some minutes. ``<`` becomes ``<=``, ``==`` becomes
``!=`` and so on. A flip that no test notices must stand in ``flips_equivalent.toml`` with the
reason why it changes nothing that can be seen; one that is noticed all the same is out of date.
"""

import ast
import os
import resource
import sys
import tomllib
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from copy import deepcopy
from dataclasses import dataclass
from importlib.abc import Loader, MetaPathFinder
from importlib.machinery import ModuleSpec
from importlib.util import spec_from_file_location, spec_from_loader
from pathlib import Path
from types import ModuleType

import django  # noqa: F401  loaded once, before the forks
import hypothesis  # noqa: F401
import pytest

ROOT = Path(__file__).resolve().parents[2]
CORE = ROOT / "outcomes" / "core"
EQUIVALENT = Path(__file__).with_name("flips_equivalent.toml")
QUIET = ("-q", "-x", "-p", "no:cacheprovider", "-p", "no:faker", "-p", "no:xdist")
LONGEST = 60
"""Seconds of the processor after which a flip that made the tests run for ever is noticed."""

FLIPPED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Flip:
    """One operator of one file: the whole comparison as it stands, and as it reads flipped."""

    file: Path
    line: int
    function: str
    before: str
    after: str
    tree: ast.Module

    @property
    def name(self) -> str:
        """What the list of equivalent flips calls it: line numbers move, the words do not."""
        return f"{self.file.stem}.{self.function}: {self.before} -> {self.after}"


def flips_of(file: Path) -> Iterator[Flip]:
    """Every flip of a file, in the order of the text."""
    tree = ast.parse(file.read_text(encoding="utf-8"), filename=str(file))
    places = [
        (number, place)
        for number, node in enumerate(ast.walk(tree))
        if isinstance(node, ast.Compare)
        for place in range(len(node.ops))
    ]
    for number, place in places:
        changed = deepcopy(tree)
        node = list(ast.walk(changed))[number]
        assert isinstance(node, ast.Compare)
        before = ast.unparse(node)
        node.ops[place] = FLIPPED[type(node.ops[place])]()
        yield Flip(
            file=file,
            line=node.lineno,
            function=_function(tree, node.lineno),
            before=before,
            after=ast.unparse(node),
            tree=changed,
        )


def _function(tree: ast.Module, line: int) -> str:
    """The innermost function or class around a line."""
    around = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and node.lineno <= line <= (node.end_lineno or 0)
    ]
    return max(around, key=lambda node: node.lineno).name if around else "module"


class Flipping(Loader, MetaPathFinder):
    """Gives out one module of the core with its flipped text."""

    def __init__(self, flip: Flip) -> None:
        self.flip, self.name = flip, f"outcomes.core.{flip.file.stem}"

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """The module's place, if it is the one."""
        if name != self.name:
            return None
        spec = spec_from_loader(name, self, origin=str(self.flip.file))
        real = spec_from_file_location(name, self.flip.file)
        if spec is not None and real is not None:
            spec.origin, spec.has_location = real.origin, True
        return spec

    def exec_module(self, module: ModuleType) -> None:
        """Run the flipped text."""
        exec(compile(self.flip.tree, str(self.flip.file), "exec"), module.__dict__)


def is_noticed(flip: Flip | None) -> bool:
    """Whether the tests of the core fail with it, in a process of its own; None flips nothing."""
    child = os.fork()
    if child == 0:
        silence = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silence, 1)
        os.dup2(silence, 2)
        resource.setrlimit(resource.RLIMIT_CPU, (LONGEST, LONGEST))
        if flip is not None:
            sys.meta_path.insert(0, Flipping(flip))
        runs = (_nearest(flip), ["tests/core"])
        codes = (pytest.main([*QUIET, *run]) for run in runs if run)
        os._exit(next((int(code) for code in codes if code), 0))
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status) != 0


def _nearest(flip: Flip | None) -> list[str]:
    """The tests that name the flipped module: asked first, as most flips are noticed there."""
    if flip is None:
        return []
    stem = flip.file.stem
    return sorted(
        str(file)
        for file in (ROOT / "tests" / "core").glob("test_*.py")
        if file.stem.startswith(f"test_{stem}")
        or f"outcomes.core.{stem} " in file.read_text(encoding="utf-8")
    )


def main(names: Sequence[str]) -> int:
    """Try all flips; print those that no test notices and that are not explained."""
    files = sorted(CORE.glob("*.py")) if not names else [CORE / name for name in names]
    flips = [flip for file in files for flip in flips_of(file)]
    if is_noticed(None):
        print("The tests of the core fail as it is: mend them first.")
        return 1
    explained = {row["flip"] for row in tomllib.loads(EQUIVALENT.read_text())["equivalent"]}
    missed, open_ones = [], []
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        for flip, seen in zip(flips, pool.map(is_noticed, flips), strict=True):
            if seen:
                continue
            missed.append(flip)
            if flip.name not in explained:
                open_ones.append(flip)
                print(f"{flip.file.name}:{flip.line}: {flip.name}", flush=True)
    names_missed = {flip.name for flip in missed}
    stems = {file.stem for file in files}
    stale = sorted(e for e in explained - names_missed if e.partition(".")[0] in stems)
    for name in stale:
        print(f"{EQUIVALENT.name}: noticed by now, or gone: {name}")
    print(f"{len(flips)} flips, {len(flips) - len(missed)} noticed, "
          f"{len(missed) - len(open_ones)} explained, {len(open_ones)} missed")  # fmt: skip
    return 1 if open_ones or stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
