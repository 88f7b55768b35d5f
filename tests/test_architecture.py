"""The map of DEVELOPERS.md, executed: who imports whom, and who speaks SQL, HTTP or chart."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SERVER = ROOT / "server" / "plytide"
WEB = ROOT / "web"

# A wing may import the wings before it, and of those only the ones named.
MAY_IMPORT: dict[str, set[str]] = {
    "model": set(),
    "settings": set(),
    "engine": {"model"},
    "wire": {"model"},
    "storage": {"model", "settings", "wire"},
    "auth": {"settings", "storage"},
    "export": {"model", "engine", "wire"},
    "work": {"model", "settings", "engine", "wire", "storage", "auth"},
    "http": {"model", "settings", "engine", "wire", "storage", "auth", "export", "work"},
    "cli": {"settings", "storage", "auth", "work", "http"},
}

# Where a library stops. One not named here may be used anywhere it is declared.
STOPS: dict[str, set[str]] = {
    "numpy": {"engine"},
    "scipy": {"engine"},
    "flask": {"auth", "http"},
    "werkzeug": {"http"},
    "gunicorn": {"http"},
    # Outside storage a connection is only handed on; that nobody else executes is tested below.
    "sqlite_utils": {"storage", "auth", "work", "http"},
    "pysqlite3": {"storage"},
    "sqlite3": set(),
    "marshmallow": {"wire"},
}

# In capitals anywhere; in small letters only where the rest of the sentence cannot be English.
SQL = re.compile(
    r"\bSELECT\b.+\bFROM\b|\bINSERT\s+(OR\s+\w+\s+)?INTO\b|\bUPDATE\s+\w+\s+SET\b|\bDELETE\s+FROM\b"
    r"|(?i:\bselect\s+(\*|count\(|.+\bfrom\b.+\b(where|order by|group by|join|limit)\b))"
    r"|(?i:\binsert\s+(or\s+\w+\s+)?into\s+\w+\s*\(|\bupdate\s+\w+\s+set\s+\w+\s*=|\bdelete\s+from\s+\w+\s+where\b)"
    r"|(?i:\b(create|alter|drop)\s+(table|index|trigger|view)\b|\bpragma\s+\w|\bbegin\s+(immediate|exclusive)\b)",
    re.DOTALL,
)


def server_files() -> list[Path]:
    return sorted(SERVER.rglob("*.py"))


def room_of(path: Path) -> str:
    first = path.relative_to(SERVER).parts[0]
    return first.removesuffix(".py")


def rooms_in_tree() -> set[str]:
    return {room_of(path) for path in server_files()} - {"__init__", "__main__"}


def imported(path: Path) -> Iterator[tuple[ast.stmt, str]]:
    """Every module a file imports, dotted, wherever in the file the import stands."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                yield node, "." * node.level + (node.module or "")
            elif node.module == "plytide":
                yield from ((node, f"plytide.{alias.name}") for alias in node.names)
            else:
                yield node, node.module or ""


def place(path: Path, node: ast.stmt) -> str:
    return f"{path.relative_to(ROOT)}:{node.lineno}"


def test_the_tree_has_the_rooms_of_the_map():
    assert rooms_in_tree() == set(MAY_IMPORT)


def test_the_table_in_developers_md_is_this_map():
    section = (ROOT / "DEVELOPERS.md").read_text().split("may import (ours)")[1].split("\n\n")[0]
    rows = re.findall(r"^\| `(\w+)` \|[^|]*\| ([^|]*) \|$", section, re.MULTILINE)
    above: set[str] = set()
    written: dict[str, set[str]] = {}
    for room, allowed in rows:
        if allowed == "every room above":
            written[room] = set(above)
        else:
            written[room] = set() if allowed == "–" else set(allowed.split(", "))
        above.add(room)
    assert written == MAY_IMPORT


def test_the_map_points_one_way():
    before: set[str] = set()
    for room, allowed in MAY_IMPORT.items():
        assert allowed <= before, f"{room} may not import rooms that come after it: {allowed - before}"
        before.add(room)


def test_a_room_imports_only_what_the_map_allows():
    wrong = []
    for path in server_files():
        room = room_of(path)
        for node, module in imported(path):
            parts = module.split(".")
            if parts[0] != "plytide" or len(parts) < 2 or parts[1] in (room, "WEB_ROOT"):
                continue
            if parts[1] not in MAY_IMPORT.get(room, set()):
                wrong.append(f"{place(path, node)} imports {module}")
    assert wrong == []


def test_every_import_that_the_map_allows_is_used():
    used: dict[str, set[str]] = {room: set() for room in MAY_IMPORT}
    libraries: dict[str, set[str]] = {library: set() for library in STOPS}
    for path in server_files():
        for _, module in imported(path):
            top, *rest = module.split(".")
            if top == "plytide" and rest:
                used.get(room_of(path), set()).add(rest[0])
            libraries.setdefault(top, set()).add(room_of(path))
    idle = {room: allowed - used[room] for room, allowed in MAY_IMPORT.items() if allowed - used[room]}
    # One SQLite driver or the other is looked up by its name when the process starts.
    idle |= {name: rooms - libraries[name] for name, rooms in STOPS.items() if name != "pysqlite3"}
    assert {name: rooms for name, rooms in idle.items() if rooms} == {}


def test_imports_are_absolute():
    wrong = [place(path, node) for path in server_files() for node, m in imported(path) if m.startswith(".")]
    assert wrong == []


def test_only_cli_knows_the_demo_and_nothing_knows_the_tests():
    wrong = []
    for path in server_files():
        top_level = set(ast.parse(path.read_text(encoding="utf-8")).body)
        for node, module in imported(path):
            top = module.split(".")[0]
            lazily_from_cli = room_of(path) == "cli" and not any(node.lineno == other.lineno for other in top_level)
            if top == "tests" or (top == "seed_demo" and not lazily_from_cli):
                wrong.append(f"{place(path, node)} imports {module}")
    assert wrong == []


def test_each_library_stops_at_its_room():
    wrong = []
    for path in server_files():
        for node, module in imported(path):
            allowed = STOPS.get(module.split(".")[0])
            if allowed is not None and room_of(path) not in allowed:
                wrong.append(f"{place(path, node)} imports {module}")
    assert wrong == []


def test_core_imports_only_the_numerical_libraries_and_itself():
    wrong = []
    for path in (SERVER / "engine" / "core").rglob("*.py"):
        for node, module in imported(path):
            top = module.split(".")[0]
            if not (module.startswith("plytide.engine.core") or top in {"numpy", "scipy", *sys.stdlib_module_names}):
                wrong.append(f"{place(path, node)} imports {module}")
    assert wrong == []


def test_every_library_the_server_uses_is_a_declared_dependency():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    needs = [*project["dependencies"], *project["optional-dependencies"]["hosts"]]
    declared = {normal(re.split(r"[\s>=<;\[]", need)[0]) for need in needs}
    known = packages_distributions()
    wrong = []
    for path in server_files():
        for node, module in imported(path):
            top = module.split(".")[0]
            if top in {"plytide", "seed_demo", "", *sys.stdlib_module_names}:
                continue
            if not declared & ({normal(name) for name in known.get(top, [])} | {normal(top)}):
                # Flask stands on werkzeug, and says so.
                if top != "werkzeug":
                    wrong.append(f"{place(path, node)} imports {module}")
    assert wrong == []


def normal(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def docstrings(tree: ast.AST) -> set[int]:
    return {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }


def test_only_storage_speaks_sql():
    wrong = []
    for path in server_files():
        if room_of(path) == "storage":
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        said = docstrings(tree)
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in said:
                if SQL.search(node.value):
                    wrong.append(f"{path.relative_to(ROOT)}:{node.lineno} {node.value[:40]!r}")
    assert wrong == []


def test_only_storage_executes():
    wrong = []
    for path in server_files():
        if room_of(path) == "storage":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and node.attr in {"execute", "executemany", "conn", "query"}:
                wrong.append(f"{path.relative_to(ROOT)}:{node.lineno} .{node.attr}")
    assert wrong == []


@pytest.mark.parametrize(
    "text",
    [
        *("SELECT a FROM b", "select * from t", "select a from t where b = 1", "insert or ignore into t (a)"),
        *("update t set a = 1", "PRAGMA foreign_keys", "begin immediate"),
    ],
)
def test_the_search_for_sql_finds_it(text):
    assert SQL.search(text)


@pytest.mark.parametrize("text", ["select a code from the list", "update your app", "create a clinic"])
def test_the_search_for_sql_lets_words_be(text):
    assert not SQL.search(text)


# The web: modules as they are served.


def web_files(*suffixes: str) -> list[Path]:
    return sorted(p for p in WEB.rglob("*") if p.suffix in suffixes and "vendor" not in p.parts)


def without_comments(script: str) -> str:
    return re.sub(r"/\*.*?\*/|(?<![:\w'\"`])//[^\n]*", "", script, flags=re.DOTALL)


NETWORK = re.compile(r"(?<!\w)fetch\s*\(|XMLHttpRequest|sendBeacon|new WebSocket|new EventSource")
CHART = re.compile(r"\bnew Chart\b|\bChart\.|(globalThis|window)\.Chart|vendor/chart")
IMPORT = re.compile(
    r"""(?:^|;)\s*(?:import|export)\s*(?:[\w*{}\s,$]+?\sfrom\s*)?['"]([^'"]+)['"]|\bimport\(\s*['"]([^'"]+)['"]""",
    re.MULTILINE,
)
# Names that only look like addresses: an XML namespace is never fetched.
NAMESPACE = re.compile(r"http://www\.w3\.org/(2000/svg|1999/xlink|1999/xhtml)")
ADDRESS = re.compile(r"(?:https?:|[\"'(])//[\w.-]+\.\w+")


def scripts_saying(pattern: re.Pattern[str], besides: set[str]) -> list[str]:
    return [
        str(path.relative_to(ROOT))
        for path in web_files(".js", ".mjs")
        if path.name not in besides and pattern.search(without_comments(path.read_text()))
    ]


def test_only_api_js_asks_the_network():
    assert scripts_saying(NETWORK, besides={"api.js", "sw.js"}) == []


def test_only_chart_js_touches_the_chart_library():
    assert scripts_saying(CHART, besides={"chart.js"}) == []


def test_every_module_import_resolves_to_a_file():
    wrong = []
    for path in web_files(".js", ".mjs"):
        for found in IMPORT.finditer(without_comments(path.read_text())):
            target = found[1] or found[2]
            if target.startswith("node:"):
                continue
            file = WEB / target.lstrip("/") if target.startswith("/") else path.parent / target
            if not file.resolve().is_file():
                wrong.append(f"{path.relative_to(ROOT)} imports {target}")
    assert wrong == []


def test_a_token_is_defined_once_for_both_apps_and_used():
    sheets = {path: re.sub(r"/\*.*?\*/", "", path.read_text(), flags=re.DOTALL) for path in web_files(".css")}
    defined = {path: set(re.findall(r"(?<![\w-])(--[\w-]+)\s*:", text)) for path, text in sheets.items()}
    shared = defined[WEB / "shared" / "tokens.css"]
    wrong = []
    for app in ("phone", "clinic"):
        own = set().union(*(names for path, names in defined.items() if app in path.parts))
        wrong += [f"{app} does not know {name}" for name in names_used(app) - shared - own]
        # On paper the clinic's ink is black, whatever the screen's is.
        again = set().union(*(defined[path] for path in sheets if app in path.parts and path.name != "paper.css"))
        wrong += [f"{app} says {name} again" for name in again & shared]
    wrong += [f"nobody uses {name}" for name in shared - names_used("phone") - names_used("clinic")]
    assert wrong == []


def test_a_class_is_defined_in_one_sheet():
    """A rule about the class alone defines it; a part may say how it looks inside it, and paper how it prints."""
    wrong = []
    for app in ("phone", "clinic"):
        homes: dict[str, set[str]] = {}
        for path in (WEB / app / "css").glob("*.css"):
            for name in classes_defined(path.read_text()):
                homes.setdefault(name, set()).add(path.name)
        wrong += [f"{app}: .{name} in {sorted(sheets)}" for name, sheets in homes.items() if len(sheets) > 1]
    assert sorted(wrong) == []


def classes_defined(sheet: str) -> set[str]:
    on_screen = re.sub(
        r"@media print \{(?:[^{}]*\{[^{}]*\})*[^{}]*\}", "", re.sub(r"/\*.*?\*/", "", sheet, flags=re.DOTALL)
    )
    selectors = [one.strip() for rule in re.findall(r"([^{};]+)\{[^{}@]*\}", on_screen) for one in rule.split(",")]
    return {found[1] for one in selectors if (found := re.fullmatch(r"\.([\w-]+)(?:::?[\w-]+)?", one))}


def test_a_page_asks_for_each_of_its_sheets():
    for app in ("phone", "clinic"):
        asked = re.findall(
            r'<link rel="stylesheet" href="(?:/phone/)?css/([\w-]+\.css)">', (WEB / app / "index.html").read_text()
        )
        kept = {path.name for path in (WEB / app / "css").glob("*.css")} - {"landing.css"}
        assert (len(asked), set(asked)) == (len(kept), kept)


def names_used(app: str) -> set[str]:
    pages = [path for path in web_files(".css", ".js", ".html") if app in path.parts or path.parent == WEB]
    return set(re.findall(r"var\((--[\w-]+)", "".join(path.read_text() for path in pages)))


def test_the_web_names_no_third_party():
    wrong = []
    for path in web_files(".js", ".mjs", ".html", ".css", ".json", ".webmanifest", ".svg"):
        found = ADDRESS.findall(NAMESPACE.sub("", path.read_text()))
        wrong += [f"{path.relative_to(ROOT)}: {address}" for address in found]
    assert wrong == []


def test_no_line_of_python_runs_on():
    """Prose and code keep to 120 characters; a text that is shown and a statement may be longer, and tables of data."""
    long = []
    for path in (*server_files(), *(path for folder in (".ci", "seed_demo", "tests") for path in files_of(folder))):
        source = path.read_text(encoding="utf-8")
        texts = lines_of_texts(ast.parse(source))
        lines = enumerate(source.split("\n"), 1)
        long += [f"{path.relative_to(ROOT)}:{n}" for n, line in lines if len(line) > 120 and n not in texts]
    assert long == []


def files_of(folder: str) -> list[Path]:
    return sorted((ROOT / folder).rglob("*.py"))


def lines_of_texts(tree: ast.Module) -> set[int]:
    """The lines of strings that are no documentation: those do not stand alone."""
    prose = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return {
        line
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in prose
        for line in range(node.lineno, (node.end_lineno or node.lineno) + 1)
    }


def test_the_wheel_names_every_folder_of_the_server():
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]["packages"]
    there = {
        ".".join(path.parent.relative_to(ROOT / "server").parts)
        for path in (ROOT / "server" / "plytide").rglob("__init__.py")
    }
    assert there <= set(told)
