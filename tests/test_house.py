"""Rules of the house: rooms, templates, settings, columns, files of others."""

from __future__ import annotations

import ast
import hashlib
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from jinja2 import Environment, nodes

from server.export import columns
from server.places import STATIC, TEMPLATES
from server.settings import Settings
from server.web.render import environment
from tests.builders import ROOT

CORE = sorted((ROOT / "server" / "core").glob("*.py"))
SERVER = sorted((ROOT / "server").rglob("*.py"))
PAGES = sorted(str(path.relative_to(TEMPLATES).as_posix()) for path in TEMPLATES.rglob("*.html"))
VENDOR = STATIC / "vendor"
TEXT = (".html", ".css", ".js", ".svg", ".json", ".txt", ".webmanifest")
NAMESPACES = ("http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink")
_HOST = re.compile(r"(?:https?:)?//[\w-]+(?:\.[\w-]+)+[^\s\"'<>)]*")
COLUMN_TABLES = {
    name: table
    for name, table in vars(columns).items()
    if isinstance(table, tuple) and table and all(isinstance(c, columns.Column) for c in table)
}


def imported(path: Path) -> Iterator[str]:
    """Names of the modules a file imports."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} imports relatively"
            yield node.module or ""


def test_imports_only_go_down() -> None:
    checked = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys; from importlinter.cli import lint_imports; "
            "sys.exit(lint_imports(no_cache=True))",
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert checked.returncode == 0, checked.stdout + checked.stderr
    assert "0 broken" in checked.stdout


@pytest.mark.parametrize("path", CORE, ids=[path.name for path in CORE])
def test_the_core_imports_the_standard_library_and_numpy_only(path: Path) -> None:
    for module in imported(path):
        top = module.partition(".")[0]
        inside = module == "server.core" or module.startswith("server.core.")
        assert inside or top == "numpy" or top in sys.stdlib_module_names, module
        assert top not in {"os", "io", "time", "pathlib", "logging", "random", "socket"}, module


@pytest.mark.parametrize("path", CORE, ids=[path.name for path in CORE])
def test_the_core_asks_no_clock_and_opens_no_file(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Attribute):
            assert node.attr not in {"today", "now", "utcnow"}, f"line {node.lineno}"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in {"open", "print", "input"}, f"line {node.lineno}"


def parts_of(source: str, made: Environment) -> tuple[set[str], set[str]]:
    """Blocks a template defines and templates it extends."""
    tree = made.parse(source)
    blocks = {block.name for block in tree.find_all(nodes.Block)}
    parents = {
        each.template.value
        for each in tree.find_all(nodes.Extends)
        if isinstance(each.template, nodes.Const)
    }
    return blocks, parents


@pytest.mark.parametrize("name", PAGES)
def test_a_template_compiles_and_a_page_has_a_title(name: str) -> None:
    made = environment()
    made.get_template(name)
    if name.startswith("shared/") or "/_" in name:
        return
    blocks, parents = parts_of((TEMPLATES / name).read_text("utf-8"), made)
    for parent in parents:
        blocks |= parts_of((TEMPLATES / parent).read_text("utf-8"), made)[0]
    assert "title" in blocks
    assert "content" in blocks or name == "patterns.html"


@pytest.mark.parametrize("name", list(Settings.model_fields))
def test_a_setting_has_a_default_and_a_sentence(name: str) -> None:
    setting = Settings.model_fields[name]
    assert not setting.is_required()
    assert setting.description
    assert setting.description.endswith(".")
    assert len(setting.description) > 20


@pytest.mark.parametrize("table", list(COLUMN_TABLES))
def test_an_exported_column_has_a_heading_of_its_own(table: str) -> None:
    exported = COLUMN_TABLES[table]
    headings = [column.titled("USD") for column in exported]
    assert all(column.heading.strip() for column in exported)
    assert len(set(headings)) == len(headings)
    assert len({column.key for column in exported}) == len(exported)
    assert not any("¤" in heading for heading in headings)


def test_the_tables_people_take_away_are_all_looked_at() -> None:
    assert {"PAIR_COLUMNS", "CELL_COLUMNS", "EXCLUDED_COLUMNS"} <= set(COLUMN_TABLES)


def own_files() -> list[Path]:
    """Text files of the pages, without what others made."""
    return [
        path
        for folder in (TEMPLATES, STATIC)
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.suffix in TEXT and VENDOR not in path.parents
    ]


def foreign_hosts(text: str) -> list[str]:
    """Addresses on other hosts in a text; names of XML languages are none."""
    return [found for found in _HOST.findall(text) if found not in NAMESPACES]


@pytest.mark.parametrize("path", own_files(), ids=lambda path: path.name)
def test_a_page_asks_no_other_host(path: Path) -> None:
    assert foreign_hosts(path.read_text("utf-8")) == []


def test_an_address_on_another_host_is_noticed() -> None:
    assert foreign_hosts('<script src="https://cdn.example.org/a.js">') != []
    assert foreign_hosts('<img src="//pictures.example.org/a.png">') != []
    assert foreign_hosts("@import url(http://fonts.example.org/x.css)") != []
    assert foreign_hosts('<svg xmlns="http://www.w3.org/2000/svg"> // a remark') == []


def vendored() -> list[tuple[Path, str]]:
    """Every file of others with its stated checksum."""
    stated = tomllib.loads((VENDOR / "vendor.toml").read_text("utf-8"))["vendored"]
    return [
        (VENDOR / each["directory"] / name, digest)
        for each in stated
        for name, digest in each["files"].items()
    ]


@pytest.mark.parametrize(("path", "digest"), vendored(), ids=lambda each: str(each)[-24:])
def test_a_file_of_others_is_unchanged(path: Path, digest: str) -> None:
    assert hashlib.sha256(path.read_bytes()).hexdigest() == digest


def test_every_file_of_others_is_listed_with_its_licence() -> None:
    stated = tomllib.loads((VENDOR / "vendor.toml").read_text("utf-8"))["vendored"]
    kept = {path for path in VENDOR.rglob("*") if path.is_file() and path.name != "vendor.toml"}
    assert kept == {path for path, _ in vendored()}
    for each in stated:
        assert each["licence"]
        assert each["version"]
        assert each["licence_file"] in each["files"]


@pytest.mark.parametrize("path", SERVER, ids=[str(p.relative_to(ROOT / "server")) for p in SERVER])
def test_no_work_is_left_lying_in_the_server(path: Path) -> None:
    assert not re.search(r"\b(TODO|FIXME|XXX|HACK)\b", path.read_text("utf-8"))
