"""The rules of the house that a machine can hold: small files, plain words, no addresses."""

import ast
import re
import subprocess
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
DOCUMENTS = ("README.md", "DEVELOPERS.md", "HAZARDS.md")
VERBS = ["demo", "test", "lint", "init", "backup", "restore", "nightly"]
VERBS += ["bench", "screenshots", "lock"]
AT_THE_ROOT = {
    *(
        ".ci",
        ".gitignore",
        "LICENSE",
        "README.md",
        "DEVELOPERS.md",
        "HAZARDS.md",
        "manage.py",
        "pyproject.toml",
    ),
    *("requirements.lock", "requirements-dev.lock", "run"),
    *("clinic", "outcomes", "templates", "static", "fixtures", "tests"),
}
SMALL = {".py", ".html", ".css", ".js", ".toml", ".md", ""}
ELSEWHERE = re.compile(
    r"pypi\.org|pythonhosted|npmjs|deb\.debian|unpkg|jsdelivr|proxy\.golang"
    r"|(?<![\w.])/(?:work|root|home)/|(?<!\w)/tmp/\w"
)
PERMISSION = re.compile(
    r"\b(cleared|ready|fit\s+to|fit\s+for|allowed|may\s+start|approved|released|passed|green\s+light"
    r"|ok\s+to|safe|safely|protects|low\s+risk|can\s+return|on\s+track|guaranteed)\b",
    re.IGNORECASE,
)

Function = ast.FunctionDef | ast.AsyncFunctionDef


@cache
def project_files() -> tuple[Path, ...]:
    """Every file of the project except those from elsewhere, whether already committed or not."""
    command = [
        "git",
        "-c",
        "safe.directory=*",
        "ls-files",
        "--cached",
        "--others",
        "--exclude-standard",
    ]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    paths = [ROOT / line for line in listed.splitlines() if "vendor/" not in line]
    return tuple(path for path in paths if path.is_file())


def _python(*folders: str) -> list[Path]:
    inside = [path for path in project_files() if path.suffix == ".py"]
    return [path for path in inside if path.relative_to(ROOT).parts[0] in folders]


@cache
def _nodes(path: Path) -> tuple[ast.AST, ...]:
    return tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


def _functions(path: Path) -> Iterator[Function]:
    return (node for node in _nodes(path) if isinstance(node, Function))


def _docstring(node: ast.AST) -> ast.Constant | None:
    holds_one = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef
    first = node.body[0] if isinstance(node, holds_one) and node.body else None
    text = first.value if isinstance(first, ast.Expr) else None
    return text if isinstance(text, ast.Constant) and isinstance(text.value, str) else None


def _lines(function: Function) -> int:
    """Lines from ``def`` to the end, without the docstring."""
    text = _docstring(function)
    documented = (text.end_lineno or text.lineno) - text.lineno + 1 if text else 0
    return (function.end_lineno or function.lineno) - function.lineno + 1 - documented


def _at(path: Path, line: int, what: object) -> str:
    return f"{path.relative_to(ROOT)}:{line} {what}"


def test_no_file_is_over_400_lines():
    counted = {
        str(path.relative_to(ROOT)): path.read_text(encoding="utf-8").count("\n")
        for path in project_files()
        if path.suffix in SMALL and path.name != "LICENSE" and "migrations" not in path.parts
    }
    assert {name: lines for name, lines in counted.items() if lines > 400} == {}


def test_no_function_is_over_40_lines_and_no_view_over_30():
    long = [
        _at(path, function.lineno, f"{function.name}: {_lines(function)}")
        for path in _python("clinic", "outcomes", "tests")
        if "migrations" not in path.parts
        for function in _functions(path)
        if _lines(function) > (30 if "views" in path.parts else 40)
    ]
    assert long == []


def test_package_init_files_are_empty():
    inits = [path for path in project_files() if path.name == "__init__.py"]
    assert [str(path) for path in inits if path.stat().st_size] == []


def test_nothing_else_lies_at_the_root():
    assert {path.relative_to(ROOT).parts[0] for path in project_files()} - AT_THE_ROOT == set()


def test_no_address_of_a_registry_and_no_path_of_a_machine():
    found = [
        _at(path, number, line.strip())
        for path in project_files()
        if path != Path(__file__) and path.name != "LICENSE"
        for number, line in enumerate(path.read_text("utf-8", "replace").splitlines(), 1)
        if ELSEWHERE.search(line)
    ]
    assert found == []


def _shown_strings(path: Path) -> Iterator[tuple[int, str]]:
    """Texts that could reach a screen or a reader: all of a template, only strings of code."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".py":
        notes = {_docstring(node) for node in _nodes(path)}
        for node in _nodes(path):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in notes:
                yield node.lineno, node.value
    elif path.suffix == ".js":
        for match in re.finditer(r"'[^'\n]*'|\"[^\"\n]*\"|`[^`]*`", text):
            yield text.count("\n", 0, match.start()) + 1, match.group()
    else:
        yield 1, re.sub(r"\|\w+", "", text) if path.suffix == ".html" else text


def _scanned() -> list[Path]:
    """Every file whose texts reach a reader: rooms, seeds, fixtures, documents, the script."""
    rooms = {"clinic", "outcomes", "templates", "static", "fixtures", "run", *DOCUMENTS}
    kinds = {".py", ".js", ".css", ".html", ".svg", ".txt", ".toml", ".json", ".jsonl", ".csv"}
    return [
        path
        for path in project_files()
        if path.relative_to(ROOT).parts[0] in rooms and path.suffix in kinds | {".md", ""}
    ]


def permissions_in(path: Path) -> list[str]:
    """The words of a file that read as permission or promise, also across the end of a line."""
    return [
        _at(path, line + text.count("\n", 0, match.start()), match.group())
        for line, text in _shown_strings(path)
        for match in PERMISSION.finditer(text)
    ]


def test_no_word_reads_as_permission_or_promise():
    assert [fault for path in _scanned() for fault in permissions_in(path)] == []


def test_every_seed_template_and_document_is_searched_for_them():
    kinds = {".html", ".toml", ".md"}
    outside = {"pyproject.toml"}
    shipped = {
        path
        for path in project_files()
        if path.suffix in kinds
        and path.relative_to(ROOT).parts[0] not in {"tests", ".ci", *outside}
    }
    assert shipped - set(_scanned()) == set()
    folders = {path.parent.relative_to(ROOT).as_posix() for path in _scanned()}
    assert folders >= {
        *("outcomes/catalogue/shipped", "outcomes/catalogue/instruments"),
        *("outcomes/protocols/shipped", "outcomes/protocols/asked", "outcomes/letters"),
        *("templates/outcomes", "templates/clinic"),
    }


@pytest.mark.parametrize(
    ("name", "text", "found"),
    [
        ("a.toml", 'how = "Step down.\\\nFit\nto hop"', ["2 Fit\nto"]),
        ("a.html", "<p>{{ x|safe }}</p>\n<p>Criteria\npassed</p>", ["3 passed"]),
        ("a.py", '"""Passed."""\nSAFE = f"{1} of 6: may " "start"', ["2 may start"]),
        ("a.js", "say('all clear, on track')", ["1 on track"]),
        ("a.md", "Low\nrisk", ["1 Low\nrisk"]),
    ],
)
def test_a_planted_word_is_found_in_every_kind_of_file(tmp_path, monkeypatch, name, text, found):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    monkeypatch.setitem(globals(), "ROOT", tmp_path)
    assert permissions_in(path) == [f"{name}:{one}" for one in found]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Cleared for sport", ["Cleared"]),
        ("it is OK  to run, on\ntrack", ["OK  to", "on\ntrack"]),
        ("6 of 6 recorded as met; already unsafe-inline, ALLOWED_HOSTS, safety", []),
    ],
)
def test_the_word_list_finds_words_and_not_parts_of_words(text, found):
    assert [match.group() for match in PERMISSION.finditer(text)] == found


def _calls(path: Path) -> Iterator[tuple[int, str]]:
    for node in _nodes(path):
        if isinstance(node, ast.Call):
            yield node.lineno, ast.unparse(node.func)


def test_forms_never_save():
    writes = re.compile(r"\.(save|create|bulk_create|delete|\w+_or_create)$|\.objects\b.*\.update$")
    forms = [path for path in _python("clinic", "outcomes") if "forms" in path.parts]
    assert [_at(p, n, name) for p in forms for n, name in _calls(p) if writes.search(name)] == []


def test_services_never_see_a_request():
    seen = [
        _at(path, function.lineno, function.name)
        for path in _python("clinic", "outcomes")
        if "services" in path.parts
        for function in _functions(path)
        if "request" in {a.arg for a in [*function.args.args, *function.args.kwonlyargs]}
    ]
    assert seen == []


def test_only_audit_writes_audit_rows():
    writes = re.compile(r"^AuditEntry$|AuditEntry\.objects\.(create|bulk_create)$")
    others = [path for path in _python("clinic", "outcomes") if path != ROOT / "clinic/audit.py"]
    assert [_at(p, n, name) for p in others for n, name in _calls(p) if writes.search(name)] == []


def _pins(lock: str) -> dict[str, str]:
    """Name to version of each package; fails where one has no hash."""
    entries = re.split(r"\n(?=\w)", (ROOT / lock).read_text(encoding="utf-8"))
    assert [entry for entry in entries if "--hash=sha256:" not in entry] == []
    return dict(entry.split()[0].split("==") for entry in entries)


def test_locks_have_hashes_and_no_addresses_and_agree():
    run, develop = _pins("requirements.lock"), _pins("requirements-dev.lock")
    assert {name: develop.get(name) for name in run} == run
    assert [
        lock for lock in ("requirements.lock", "requirements-dev.lock") if "://" in _text(lock)
    ] == []


def _text(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def _listed_verbs(text: str) -> list[str]:
    return list(dict.fromkeys(re.findall(r"\./run ([a-z]+)", text)))


def test_run_is_a_short_posix_script_that_lists_its_verbs():
    assert _text("run").startswith("#!/bin/sh\n")
    assert _text("run").count("\n") < 150
    said = subprocess.run(["./run"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert _listed_verbs(said) == VERBS
    assert subprocess.run(["./run", "nothing"], cwd=ROOT, capture_output=True).returncode == 2


@pytest.mark.skipif(not README.exists(), reason="README.md is not written yet")
def test_the_readme_describes_every_verb():
    assert set(VERBS) - set(_listed_verbs(_text("README.md"))) == set()
