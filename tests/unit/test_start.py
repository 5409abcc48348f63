"""start.py decides what to install, when, and what to say when it fails."""

from __future__ import annotations

import ast
import json
import platform
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import start

ROOT = Path(__file__).parents[2]


@pytest.fixture
def place(tmp_path: Path) -> start.Place:
    """Make a folder as a person unpacks it, with nothing installed."""
    (tmp_path / "requirements").mkdir()
    for group in ("run", "test"):
        (tmp_path / "requirements" / f"{group}.txt").write_text("a==1\n", encoding="utf-8")
    (tmp_path / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
    return start.Place(tmp_path)


def add_package(place: start.Place, name: str) -> Path:
    packages = place.venv / ("Lib" if place.windows else "lib/python3.11") / "site-packages"
    record = packages / f"{name}.dist-info"
    record.mkdir(parents=True)
    return record


# --- Python version --------------------------------------------------------------------------


@pytest.mark.parametrize("minor", [11, 12, 13])
def test_supported_pythons_pass(minor: int) -> None:
    assert start.version_problem(3, minor) is None


@pytest.mark.parametrize(("major", "minor"), [(2, 7), (3, 6), (3, 10), (3, 14), (4, 0)])
def test_other_pythons_are_told_what_to_install(major: int, minor: int) -> None:
    problem = start.version_problem(major, minor)
    assert problem is not None
    assert f"this is Python {major}.{minor}." in problem
    assert "py -3.13 start.py" in problem


def test_supported_versions_agree_with_the_project_file() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    oldest, newest = start.OLDEST[1], start.NEWEST[1]
    assert project["requires-python"] == f">=3.{oldest},<3.{newest + 1}"


def test_old_pythons_can_read_the_file_up_to_the_message() -> None:
    source = (ROOT / "start.py").read_text(encoding="utf-8")
    assert ast.parse(source, feature_version=(3, 6))
    assert source.index("sys.exit(version_problem") < source.index("import dataclass")


# --- stamp -----------------------------------------------------------------------------------


def test_a_stamp_holds_until_something_changes(place: start.Place) -> None:
    add_package(place, "numpy-2.4.6")
    assert not start.is_current(place, "run")
    start.write_stamp(place, "run")
    assert start.is_current(place, "run")
    assert not start.is_current(place, "test")


@pytest.mark.parametrize("changed", ["requirements/run.txt", "pyproject.toml"])
def test_a_changed_list_or_project_makes_the_stamp_stale(place: start.Place, changed: str) -> None:
    add_package(place, "numpy-2.4.6")
    start.write_stamp(place, "run")
    with (place.root / changed).open("a", encoding="utf-8") as file:
        file.write("# one more\n")
    assert not start.is_current(place, "run")


def test_the_other_list_does_not_matter(place: start.Place) -> None:
    add_package(place, "numpy-2.4.6")
    start.write_stamp(place, "run")
    place.lock("test").write_text("b==2\n", encoding="utf-8")
    assert start.is_current(place, "run")


def test_a_package_removed_makes_the_stamp_stale(place: start.Place) -> None:
    add_package(place, "numpy-2.4.6")
    lost = add_package(place, "scipy-1.17.1")
    start.write_stamp(place, "run")
    lost.rmdir()
    assert not start.is_current(place, "run")


def test_a_moved_folder_makes_the_stamp_stale(place: start.Place, tmp_path: Path) -> None:
    add_package(place, "numpy-2.4.6")
    start.write_stamp(place, "run")
    moved = tmp_path.with_name(tmp_path.name + "-moved")
    tmp_path.rename(moved)
    assert not start.is_current(start.Place(moved), "run")


@pytest.mark.parametrize("content", ["", "{", "[]", "{}", '{"fingerprint": null}', "\x00"])
def test_a_damaged_stamp_is_a_stale_one(place: start.Place, content: str) -> None:
    place.venv.mkdir()
    place.stamp("run").write_text(content, encoding="utf-8")
    assert not start.is_current(place, "run")


def test_the_stamp_is_plain_json(place: start.Place) -> None:
    add_package(place, "numpy-2.4.6")
    start.write_stamp(place, "run")
    record = json.loads(place.stamp("run").read_text(encoding="utf-8"))
    assert record["packages"] == ["numpy-2.4.6.dist-info"]


# --- state of .venv --------------------------------------------------------------------------


def make_bare_venv(place: start.Place) -> None:
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", place.venv], check=True)


def test_no_folder_is_missing(place: start.Place) -> None:
    assert start.venv_state(place) == "missing"


def test_an_empty_folder_is_broken(place: start.Place) -> None:
    place.venv.mkdir()
    assert start.venv_state(place) == "broken"


def test_a_real_one_without_pip_is_told_apart(place: start.Place) -> None:
    make_bare_venv(place)
    assert start.venv_state(place) == "no pip"


def test_an_interrupted_installation_is_broken(place: start.Place) -> None:
    make_bare_venv(place)
    place.unfinished.touch()
    assert start.venv_state(place) == "broken"


def test_a_python_that_does_not_run_is_broken(place: start.Place) -> None:
    place.python.parent.mkdir(parents=True)
    place.python.write_bytes(b"not a program")
    place.python.chmod(0o755)
    assert start.venv_state(place) == "broken"


def test_removing_takes_the_folder_and_nothing_else(place: start.Place) -> None:
    make_bare_venv(place)
    start.remove_venv(place)
    assert not place.venv.exists()
    assert place.lock("run").exists()


def test_the_python_in_use_is_not_removed(
    place: start.Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    place.venv.mkdir()
    monkeypatch.setattr(sys, "prefix", str(place.venv))
    with pytest.raises(start.StartError, match="system's own Python"):
        start.remove_venv(place)
    assert place.venv.exists()


# --- commands --------------------------------------------------------------------------------


def test_windows_and_other_paths(tmp_path: Path) -> None:
    assert start.Place(tmp_path, windows=True).python == tmp_path / ".venv/Scripts/python.exe"
    assert start.Place(tmp_path, windows=False).python == tmp_path / ".venv/bin/python"


def test_pip_takes_only_listed_files(place: start.Place) -> None:
    command = start.pip_command(place, "run")
    assert command[:4] == [str(place.python), "-m", "pip", "install"]
    assert {"--require-hashes", "--no-deps", "--only-binary"} <= set(command)
    assert command[-2:] == ["--requirement", str(place.lock("run"))]
    assert "--no-index" not in command


def test_a_wheelhouse_is_the_only_source(place: start.Place) -> None:
    place.wheelhouse.mkdir()
    command = start.pip_command(place, "test")
    assert command[command.index("--find-links") + 1] == str(place.wheelhouse)
    assert "--no-index" in command


def test_the_project_itself_fetches_nothing(place: start.Place) -> None:
    command = start.project_command(place)
    assert {"--no-index", "--no-deps", "--no-build-isolation"} <= set(command)
    assert command[-2:] == ["--editable", str(place.root)]


@pytest.mark.parametrize(("cores", "workers"), [(None, 2), (1, 2), (2, 3), (4, 4), (64, 4)])
def test_workers_follow_the_cores_up_to_four(cores: int | None, workers: int) -> None:
    assert start.worker_count(cores) == workers


def test_the_persons_pytest_options_come_last(place: start.Place) -> None:
    command = start.pytest_command(place, ["tests/unit", "-n", "0"])
    assert command[-3:] == ["tests/unit", "-n", "0"]
    assert command.count("-n") == 2


def test_settings_that_lead_outside_are_dropped() -> None:
    given = {"PYTHONPATH": "x", "PythonHome": "x", "PIP_TARGET": "x", "PIP_USER": "1", "PATH": "p"}
    environment = start.child_environment(given)
    assert environment["PATH"] == "p"
    assert environment["PIP_USER"] == "0"
    assert not {"PYTHONPATH", "PythonHome", "PIP_TARGET"} & set(environment)


def test_both_locks_get_the_same_settings() -> None:
    run, test = start.lock_commands("uv", ["--upgrade"])
    for command in (run, test):
        assert {"--universal", "--generate-hashes", "--no-emit-index-url"} <= set(command)
        assert "--upgrade" in command
    assert test[test.index("--constraints") + 1] == run[run.index("--output-file") + 1]


@pytest.mark.parametrize(
    ("words", "code"), [(["--help"], 0), (["tets"], 1), (["check", "spelling"], 1)]
)
def test_words_that_install_nothing(place: start.Place, words: list[str], code: int) -> None:
    assert start.main(words, place) == code
    assert not place.venv.exists()


def test_an_unknown_word_is_answered_with_the_known_ones(
    place: start.Place, capsys: pytest.CaptureFixture[str]
) -> None:
    start.main(["tets"], place)
    assert "'tets' is not one of: test, check, lock, sbom, audit, repair" in capsys.readouterr().err


# --- pip, watched ----------------------------------------------------------------------------

PIP_LINES = [
    "Ignoring colorama: markers 'sys_platform == \"win32\"' don't match your environment\n",
    "Collecting aiohttp==3.14.5 (from -r requirements/run.txt (line 11))\n",
    "  Downloading aiohttp-3.14.5-cp311-cp311-manylinux2014_x86_64.whl (1.9 MB)\n",
    "Processing ./wheel house/argon2_cffi-25.1.0-py3-none-any.whl (from -r run.txt (line 2))\n",
    "Processing c:\\shop\\wheelhouse\\numpy-2.4.6-cp311-cp311-win_amd64.whl\n",
    "  Using cached typer-0.29.2-py3-none-any.whl (42 kB)\n",
    "Requirement already satisfied: pint==0.25.3 in c:\\shop\\.venv (0.25.3)\n",
    "Installing collected packages: aiohttp, argon2_cffi, numpy\n",
    "Successfully installed aiohttp-3.14.5\n",
]


def test_pips_lines_become_one_per_package() -> None:
    progress = start.Progress(5)
    shown = [message for line in PIP_LINES if (message := progress.read(line))]
    assert shown == [
        "  [  1/4] aiohttp 3.14.5",
        "            1.9 MB to download",
        "  [  2/4] argon2_cffi 25.1.0",
        "  [  3/4] numpy 2.4.6",
        "  [  4/4] pint 0.25.3",
        "  unpacking 3",
    ]
    assert progress.unpacking
    assert progress.lines == PIP_LINES


def test_packages_of_a_lock_are_counted() -> None:
    text = (
        "# numpy==1\nnumpy==2.4.6 ; python_version < '3.12' \\\n    --hash=sha256:ab==\nuv[x]==1\n"
    )
    assert start.package_count(text) == 2


RETRY = (
    "WARNING: Retrying (Retry(total=0)) after connection broken by 'NewConnectionError: "
    "Failed to establish a new connection: getaddrinfo failed': /simple/scipy/\n"
)
NO_MATCH = "ERROR: No matching distribution found for scipy==1.17.1\n"
BAD_HASH = [
    "ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.\n",
    "    scipy==1.17.1 from file (from -r run.txt (line 3)):\n",
    "        Expected sha256 aa\n",
]
FULL = "ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device\n"
LOCKED = "ERROR: Could not install packages due to an OSError: [WinError 5] Access is denied\n"


@pytest.mark.parametrize(
    ("lines", "wheelhouse", "expected"),
    [
        ([RETRY, NO_MATCH], False, "scipy 1.17.1 could not be downloaded: no connection"),
        ([NO_MATCH], False, "There is no ready-built scipy 1.17.1 for Python"),
        ([NO_MATCH], True, "The wheelhouse folder has no file of scipy 1.17.1"),
        (BAD_HASH, False, "The file received for scipy 1.17.1 is not the one"),
        ([FULL], False, "The disk is full while installing numpy 2.4.6"),
        ([LOCKED], False, "A file of numpy 2.4.6 could not be written"),
        (["ERROR: something new\n"], False, "stopped at numpy 2.4.6:\n  ERROR: something new"),
    ],
)
def test_a_failure_names_the_package_and_the_way_out(
    lines: list[str], wheelhouse: bool, expected: str
) -> None:
    assert expected in start.explain_failure(lines, "numpy 2.4.6", wheelhouse=wheelhouse)


def test_a_missing_package_names_this_machine() -> None:
    told = start.explain_failure([NO_MATCH], "", wheelhouse=False)
    assert f"Python {platform.python_version()} on {platform.system()}" in told


@pytest.fixture
def quiet_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(start, "QUIET_SECONDS", 0.05)


@pytest.mark.usefixtures("quiet_limit")
def test_a_silent_program_still_shows_life(
    place: start.Place, capsys: pytest.CaptureFixture[str]
) -> None:
    place.venv.mkdir()
    program = (
        "import time; print('Collecting a==1', flush=True); time.sleep(1.2); raise SystemExit(7)"
    )
    progress = start.Progress(1)
    assert start.watch([sys.executable, "-c", program], place, progress) == 7
    shown = capsys.readouterr().out
    assert "[  1/1] a 1" in shown
    assert "still working on a 1" in shown
    assert not place.unfinished.exists()


@pytest.mark.usefixtures("quiet_limit")
def test_a_long_step_shows_life_and_returns_its_code(capsys: pytest.CaptureFixture[str]) -> None:
    program = "import time; time.sleep(0.3); raise SystemExit(5)"
    assert start.call([sys.executable, "-c", program], waiting="  busy") == 5
    assert "  busy\n" in capsys.readouterr().out


def test_unpacking_leaves_the_mark_for_the_next_start(place: start.Place) -> None:
    place.venv.mkdir()
    program = "print('Installing collected packages: a, b'); raise SystemExit(1)"
    assert start.watch([sys.executable, "-c", program], place, start.Progress(2)) == 1
    assert start.venv_state(place) == "broken"


# --- the lock files themselves ---------------------------------------------------------------


def pins(group: str) -> set[str]:
    text = (ROOT / "requirements" / f"{group}.txt").read_text(encoding="utf-8")
    return set(re.findall(r"^([\w.\-]+==.*?) \\$", text, re.MULTILINE))


def test_the_test_list_contains_the_run_list() -> None:
    assert len(pins("run")) > 50
    assert pins("run") < pins("test")


def test_every_direct_dependency_is_locked() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    groups = project["dependency-groups"]
    wanted = {"run": project["project"]["dependencies"] + groups["build"], "test": groups["test"]}
    for group, requirements in wanted.items():
        locked = {re.split("==", pin)[0] for pin in pins(group)}
        names = {re.split(r"[<>=\[; ]", text)[0].lower().replace("_", "-") for text in requirements}
        assert names <= locked


def test_every_pin_has_a_hash() -> None:
    for group in ("run", "test"):
        text = (ROOT / "requirements" / f"{group}.txt").read_text(encoding="utf-8")
        for block in re.split(r"\n(?=[\w])", text):
            assert block.startswith("#") or "--hash=sha256:" in block, block
