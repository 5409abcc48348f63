"""Start Portwright, or test it, on a machine that has nothing but Python.

    python3 start.py [--port N] [--no-browser]   install, work the demo shop, open the app
    python3 start.py test [pytest options]       install the test tools, run every test

and for those who change Portwright::

    python3 start.py check     ruff, format, mypy and layers over the whole source, or those named
    python3 start.py lock      write requirements/*.txt anew from pyproject.toml (needs uv)
    python3 start.py sbom      write the list of everything Portwright is built from
    python3 start.py audit     known weaknesses of those packages, and a review of the lock
    python3 start.py repair    remove .venv and install again

On Windows type ``py start.py``.  Everything is installed into the folder .venv beside this
file and nowhere else.  A folder ``wheelhouse`` beside this file, holding the package files
named in requirements/run.txt, is used instead of the network.
"""

import sys

OLDEST, NEWEST = (3, 11), (3, 13)


def version_problem(major: int, minor: int) -> "str | None":
    """Say why this Python cannot be used, or return None when it can."""
    if OLDEST <= (major, minor) <= NEWEST:
        return None
    newest = ".".join(map(str, NEWEST))
    return (
        f"Portwright needs Python 3.11, 3.12 or 3.13; this is Python {major}.{minor}.\n"
        f"Install Python {newest} (it can stand beside the one you have), then start with it:\n"
        f"  Windows:       py -{newest} start.py\n"
        f"  macOS, Linux:  python{newest} start.py"
    )


if __name__ == "__main__" and version_problem(*sys.version_info[:2]):
    sys.exit(version_problem(*sys.version_info[:2]))

import hashlib
import importlib.util
import json
import os
import platform
import queue
import re
import shutil
import subprocess
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

QUIET_SECONDS = 4.0  # longest time without a line on the screen
STOPPED = 130  # exit code after Ctrl-C, as shells use it


class StartError(Exception):
    """Something stops the start; the text says what and what to do."""


@dataclass(frozen=True)
class Place:
    """Folder Portwright lies in, and the paths that follow from it."""

    root: Path
    windows: bool = os.name == "nt"

    @property
    def venv(self) -> Path:
        """Folder everything is installed into."""
        return self.root / ".venv"

    @property
    def python(self) -> Path:
        """Python inside .venv."""
        return self.venv / ("Scripts/python.exe" if self.windows else "bin/python")

    @property
    def wheelhouse(self) -> Path:
        """Folder of package files for a machine without a network; usually absent."""
        return self.root / "wheelhouse"

    @property
    def unfinished(self) -> Path:
        """Mark that stands while .venv is being changed; left behind, .venv is half made."""
        return self.venv / "portwright-unfinished"

    @property
    def log(self) -> Path:
        """Everything pip said during the last installation."""
        return self.venv / "portwright-install.log"

    @property
    def serve_command(self) -> Path:
        """Source of the command that serves the app; a version without the app lacks it."""
        return self.root / "src" / "portwright" / "cli" / "commands" / "serve.py"

    def lock(self, group: str) -> Path:
        """Lock file of a group, ``run`` or ``test``."""
        return self.root / "requirements" / f"{group}.txt"

    def stamp(self, group: str) -> Path:
        """Record that a group is completely installed."""
        return self.venv / f"portwright-{group}.json"

    def installed(self) -> list[str]:
        """Names of the package records in .venv, sorted."""
        pattern = "Lib/site-packages" if self.windows else "lib/python3*/site-packages"
        return sorted(found.name for found in self.venv.glob(f"{pattern}/*.dist-info"))


# --- what is installed, and whether it is still the right thing ------------------------------


def fingerprint(place: Place, group: str) -> str:
    """Hash of everything an installation depends on: lock file, project file, folder."""
    digest = hashlib.sha256(str(place.root).encode())
    for path in (place.lock(group), place.root / "pyproject.toml"):
        digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def write_stamp(place: Place, group: str) -> None:
    """Record that ``group`` is completely installed."""
    record = {"fingerprint": fingerprint(place, group), "packages": place.installed()}
    place.stamp(group).write_text(json.dumps(record, indent=1), encoding="utf-8")


def is_current(place: Place, group: str) -> bool:
    """Tell whether the stamp fits the lock file and every recorded package is still there."""
    try:
        record = json.loads(place.stamp(group).read_text(encoding="utf-8"))
        fits = record["fingerprint"] == fingerprint(place, group)
        return fits and set(record["packages"]) <= set(place.installed())
    except (OSError, ValueError, KeyError, TypeError):
        return False


def venv_state(place: Place) -> str:
    """Return ``missing``, ``broken``, ``no pip`` or ``ready``."""
    if not place.venv.exists():
        return "missing"
    if place.unfinished.exists():
        return "broken"
    probe = (
        "import importlib.util, sys\n"
        f"if not {OLDEST} <= sys.version_info[:2] <= {NEWEST}: sys.exit(4)\n"
        "sys.exit(0 if importlib.util.find_spec('pip') else 3)"
    )
    try:
        code = subprocess.run(
            [place.python, "-c", probe], capture_output=True, timeout=120, check=False
        ).returncode
    except (OSError, subprocess.TimeoutExpired):
        return "broken"
    return {0: "ready", 3: "no pip"}.get(code, "broken")


# --- commands --------------------------------------------------------------------------------


def pip_command(place: Place, group: str) -> list[str]:
    """Build the pip call that installs a lock file.

    The lock names every package, so pip resolves nothing (``--no-deps``), takes only files whose
    hash is listed, and builds nothing from source, which would fetch unlisted build tools.
    """
    command = [str(place.python), "-m", "pip", "install", "--require-hashes", "--no-deps"]
    command += ["--only-binary", ":all:", "--no-compile", "--progress-bar", "off"]
    if place.wheelhouse.is_dir():
        command += ["--no-index", "--find-links", str(place.wheelhouse)]
    return [*command, "--requirement", str(place.lock(group))]


def project_command(place: Place) -> list[str]:
    """Build the pip call that installs Portwright itself, with the locked build tools."""
    command = [str(place.python), "-m", "pip", "install", "--no-index", "--no-deps"]
    return [*command, "--no-build-isolation", "--editable", str(place.root)]


def portwright_command(place: Place, *arguments: str) -> list[str]:
    """Build the call of one Portwright command."""
    return [str(place.python), "-m", "portwright.cli.main", *arguments]


def worker_count(cores: int | None) -> int:
    """Test processes to use: one more than cores, as browsers are waited for; four at most."""
    return min((cores or 1) + 1, 4)


def pytest_command(place: Place, arguments: Sequence[str]) -> list[str]:
    """Build the pytest call; options given by the person come last and win."""
    workers = worker_count(os.cpu_count())
    spread = ["-n", str(workers), "--dist", "loadgroup"]
    return [str(place.python), "-m", "pytest", *spread, *arguments]


def check_commands(place: Place) -> dict[str, list[str]]:
    """Build the calls that check the source without running it."""
    module = [str(place.python), "-m"]
    return {
        "ruff": [*module, "ruff", "check", "."],
        "format": [*module, "ruff", "format", "--check", "."],
        "mypy": [*module, "mypy"],
        "layers": [str(place.python.parent / "lint-imports"), "--no-logo"],
    }


def lock_commands(uv: str, arguments: Sequence[str]) -> list[list[str]]:
    """Build the uv calls that write both lock files; the second agrees with the first."""
    shared = [uv, "pip", "compile", "pyproject.toml", "--universal", "--python-version", "3.11"]
    shared += ["--generate-hashes", "--no-emit-index-url", "--no-emit-find-links", "--quiet"]
    shared += ["--custom-compile-command", "python3 start.py lock", "--group", "build", *arguments]
    run, test = "requirements/run.txt", "requirements/test.txt"
    return [
        [*shared, "--output-file", run],
        [*shared, "--group", "test", "--constraints", run, "--output-file", test],
    ]


def child_environment(base: Mapping[str, str]) -> dict[str, str]:
    """Environment for programs in .venv: settings that would lead outside it are dropped."""
    outside = {"PYTHONHOME", "PYTHONPATH", "PIP_TARGET", "PIP_PREFIX", "PIP_REQUIRE_VIRTUALENV"}
    kept = {name: value for name, value in base.items() if name.upper() not in outside}
    own = {"PIP_USER": "0", "PIP_NO_INPUT": "1", "PIP_DISABLE_PIP_VERSION_CHECK": "1"}
    return {**kept, **own, "PYTHONUTF8": "1"}


# --- pip, watched ----------------------------------------------------------------------------


def package_count(lock_text: str) -> int:
    """Count the pinned packages of a lock file."""
    return len(re.findall(r"^[A-Za-z0-9][\w.\-\[\]]*==", lock_text, flags=re.MULTILINE))


class Progress:
    """Turns pip's lines into one line per package.

    Parameters
    ----------
    total : int
        Packages named in the lock file.
    """

    def __init__(self, total: int) -> None:
        self.total = total
        self.done = 0
        self.package = ""
        self.unpacking = False
        self.lines: list[str] = []

    def read(self, line: str) -> str | None:
        """Take one line of pip; return what to show, None for nothing."""
        self.lines.append(line)
        text = line.strip()
        package = re.match(r"(?:Collecting|Requirement already satisfied:) (\S+)==(\S+)", text)
        package = package or re.match(r"Processing (?:.*[/\\])?([^-/\\]+)-([^-]+)-.*\.whl", text)
        size = re.match(r"Downloading \S+ \(([\d.]+ [MG]B)\)", text)
        shown = None
        if text.startswith("Ignoring "):
            self.total -= 1
        elif package:
            self.done += 1
            self.package = f"{package[1]} {package[2]}"
            shown = f"  [{self.done:>3}/{self.total}] {self.package}"
        elif size:
            shown = f"            {size[1]} to download"
        elif text.startswith("WARNING: Retrying"):
            shown = f"            no answer for {self.package or 'the first package'}, trying again"
        elif text.startswith("Installing collected packages"):
            self.unpacking = True
            shown = f"  unpacking {text.count(',') + 1}" if "," in text else None
        return shown


FAILURES = {
    r"No space left|Errno 28|WinError 112": (
        "The disk is full while installing {package}. Free about 2 GB, then start again."
    ),
    r"DO NOT MATCH THE HASHES|Hashes are required": (
        "The file received for {package} is not the one Portwright was tested with (damaged on "
        "the way, or replaced). Nothing of it was used. Start again; if it stays so, the network "
        "or the wheelhouse folder delivers wrong files."
    ),
    r"Errno 13|Permission denied|WinError 5\b|WinError 32": (
        "A file of {package} could not be written. Close every Portwright window, check that "
        "you may write in this folder, then start again."
    ),
    r"CERTIFICATE_VERIFY_FAILED|SSLError": (
        "{package} could not be downloaded: the network answers with a certificate this Python "
        "does not trust (company proxy, wrong clock). Correct that, then start again."
    ),
    r"Retrying \(|NewConnectionError|Max retries|ConnectionError|Connection reset|timed out": (
        "{package} could not be downloaded: no connection. Check the network or the proxy, then "
        "start again: what has arrived is kept. Without a network, put the package files into a "
        "folder named wheelhouse beside start.py (CONTRIBUTING.md says how to fill it)."
    ),
}


def explain_failure(lines: Sequence[str], package: str, *, wheelhouse: bool) -> str:
    """Say in plain words why pip stopped, which package it concerns and what to do."""
    text = "\n".join(lines)
    named = re.search(r"(?:No matching distribution found for|HASHES[^=]*\n) +(\S+==\S+)", text)
    package = (named[1] if named else package).replace("==", " ") or "the packages"
    machine = f"Python {platform.python_version()} on {platform.system()} {platform.machine()}"
    for pattern, advice in FAILURES.items():
        if re.search(pattern, text):
            return advice.format(package=package)
    if "No matching distribution" in text and wheelhouse:
        return (
            f"The wheelhouse folder has no file of {package} for {machine}. Add it, or remove "
            "the folder to download instead."
        )
    if "No matching distribution" in text:
        return (
            f"There is no ready-built {package} for {machine}. Use 64-bit Python 3.11 to 3.13 "
            "from the Python website or your system."
        )
    errors = [line.strip() for line in lines if line.lstrip().startswith(("ERROR", "error"))]
    last = "\n  ".join(errors[-5:] or [line.rstrip() for line in lines[-5:]])
    return f"Installing stopped at {package}:\n  {last}"


def watch(command: Sequence[str], place: Place, progress: Progress) -> int:
    """Run pip, show its progress, never stay silent for long; return its exit code."""
    before = len(place.installed())
    child = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        stdin=subprocess.DEVNULL,
        encoding="utf-8",
        errors="replace",
        env={**child_environment(os.environ), "PYTHONUNBUFFERED": "1"},
        cwd=place.root,
    )
    lines: queue.Queue[str | None] = queue.Queue()
    reader = threading.Thread(target=_forward, args=(child, lines), daemon=True)
    reader.start()
    shown = time.monotonic()
    try:
        while True:
            try:
                line = lines.get(timeout=0.5)
            except queue.Empty:
                line = ""
            if line is None:
                return child.wait()
            message = progress.read(line) if line else None
            if progress.unpacking and line:
                place.unfinished.touch()
            if message is None and time.monotonic() - shown > QUIET_SECONDS:
                message = f"            still working on {progress.package or 'it'}"
                if progress.unpacking:
                    message = f"  unpacked {len(place.installed()) - before} so far"
            if message is not None:
                print(message, flush=True)
                shown = time.monotonic()
    finally:
        _stop(child)


def _forward(child: "subprocess.Popen[str]", lines: "queue.Queue[str | None]") -> None:
    assert child.stdout is not None  # noqa: S101 - opened as a pipe by watch
    with child.stdout as output:
        for line in output:
            lines.put(line)
    lines.put(None)


def _stop(child: "subprocess.Popen[str] | subprocess.Popen[bytes]") -> None:
    """Let a child that got the same Ctrl-C end by itself, then end it."""
    try:
        child.wait(timeout=10)
    except (subprocess.TimeoutExpired, KeyboardInterrupt):
        child.kill()
        child.wait()


# --- steps -----------------------------------------------------------------------------------


def remove_venv(place: Place) -> None:
    """Remove .venv, refusing when this very program runs from it."""
    if Path(sys.prefix).resolve() == place.venv.resolve():
        raise StartError("This is the Python inside .venv. Start with the system's own Python.")
    try:
        if place.venv.is_symlink() or place.venv.is_file():
            place.venv.unlink()
        elif place.venv.exists():
            shutil.rmtree(place.venv)
    except OSError as error:
        raise StartError(
            f"The folder .venv cannot be removed ({error}). Close every Portwright window and "
            "editor that uses it, then start again."
        ) from error


def make_venv(place: Place) -> None:
    """Make .venv with pip in it, or complete one that lacks pip."""
    if not all(importlib.util.find_spec(name) for name in ("venv", "ensurepip")):
        version = f"{sys.version_info[0]}.{sys.version_info[1]}"
        raise StartError(
            "This Python lacks the modules venv and ensurepip. On Debian and Ubuntu:\n"
            f"  sudo apt install python{version}-venv\n"
            "Elsewhere install the complete Python 3.13, then start again."
        )
    print("Preparing the folder .venv (a few seconds)", flush=True)
    try:
        place.venv.mkdir(exist_ok=True)
        place.unfinished.touch()
    except OSError as error:
        raise StartError(
            f"The folder .venv cannot be made here ({error}). Move Portwright to a folder you "
            "may write in, for example inside Documents."
        ) from error
    made = subprocess.run(
        [sys.executable, "-m", "venv", place.venv],
        capture_output=True,
        text=True,
        errors="replace",
        env=child_environment(os.environ),
        check=False,
    )
    if made.returncode:
        detail = (made.stderr or made.stdout).strip()
        raise StartError(f"Python could not make the folder .venv:\n{detail}")
    place.unfinished.unlink()


def install(place: Place, group: str) -> None:
    """Install a lock file and Portwright itself, then write the stamps."""
    begun = time.monotonic()
    place.log.unlink(missing_ok=True)
    source = "the wheelhouse folder" if place.wheelhouse.is_dir() else "the network"
    progress = Progress(package_count(place.lock(group).read_text(encoding="utf-8")))
    print(f"Installing from {source}", flush=True)
    _pip(pip_command(place, group), place, progress)
    print("  building portwright itself", flush=True)
    own = Progress(1)
    own.package = "portwright"
    _pip(project_command(place), place, own)
    place.unfinished.unlink(missing_ok=True)
    for stamped in {"run", group}:
        write_stamp(place, stamped)  # the test lock contains the run lock
    print(f"Installed in {time.monotonic() - begun:.0f} s\n", flush=True)


def _pip(command: Sequence[str], place: Place, progress: Progress) -> None:
    code = watch(command, place, progress)
    with place.log.open("a", encoding="utf-8") as log:
        log.writelines(progress.lines)
    if code:
        advice = explain_failure(
            progress.lines, progress.package, wheelhouse=place.wheelhouse.is_dir()
        )
        raise StartError(f"{advice}\nEverything pip said is in {place.log}")


def ensure(place: Place, group: str) -> None:
    """Bring .venv into order: nothing to do on most starts."""
    state = venv_state(place)
    if state == "broken":
        print("The folder .venv is damaged, half made or of an unsuitable Python", flush=True)
        remove_venv(place)
    if state != "ready":
        make_venv(place)
    if not is_current(place, group):
        install(place, group)


def call(command: Sequence[str], cwd: Path | None = None, waiting: str = "") -> int:
    """Run a program on this console; Ctrl-C is its own business first.

    ``waiting`` is shown every few seconds while the program runs.
    """
    child = subprocess.Popen(command, cwd=cwd, env=child_environment(os.environ))
    try:
        while True:
            try:
                return child.wait(timeout=QUIET_SECONDS if waiting else None)
            except subprocess.TimeoutExpired:
                print(waiting, flush=True)
    finally:
        _stop(child)


def start(place: Place, arguments: Sequence[str]) -> int:
    """Work the demo shop, then serve the app."""
    ensure(place, "run")
    code = call(portwright_command(place, "demo"), waiting="  working the demo shop")
    if code or not place.serve_command.exists():
        return code
    return call(portwright_command(place, "serve", *arguments))


def test(place: Place, arguments: Sequence[str]) -> int:
    """Run the tests."""
    ensure(place, "test")
    return call(pytest_command(place, arguments), cwd=place.root)


def check(place: Place, arguments: Sequence[str]) -> int:
    """Run the source checks, all or those named, then say which failed."""
    commands = check_commands(place)
    unknown = set(arguments) - set(commands)
    if unknown:
        raise StartError(f"No check called {', '.join(unknown)}. Known: {', '.join(commands)}.")
    ensure(place, "test")
    failed = []
    for name in arguments or commands:
        print(f"--- {name}", flush=True)
        if call(commands[name], cwd=place.root):
            failed.append(name)
    print(f"Failed: {', '.join(failed)}" if failed else "Source checks passed", flush=True)
    return 1 if failed else 0


def lock(place: Place, arguments: Sequence[str]) -> int:
    """Write the lock files anew; ``--upgrade`` moves every pin to the newest release."""
    beside = shutil.which("uv", path=str(place.python.parent))
    uv = beside or shutil.which("uv")
    if uv is None:
        raise StartError(f"Locking needs uv. Install it with: {place.python} -m pip install uv")
    for command in lock_commands(uv, arguments):
        done = subprocess.run(command, cwd=place.root, stdout=subprocess.DEVNULL, check=False)
        if done.returncode:
            return done.returncode
    print("Wrote requirements/run.txt and requirements/test.txt; now: python3 start.py sbom")
    return 0


def sbom(place: Place, _arguments: Sequence[str]) -> int:
    """Write the list of packages from the lock file."""
    ensure(place, "test")
    return call([str(place.python), "-m", "requirements.sbom"], cwd=place.root)


def audit(place: Place, _arguments: Sequence[str]) -> int:
    """Audit the packages."""
    ensure(place, "test")
    return call([str(place.python), "-m", "requirements.audit"], cwd=place.root)


def repair(place: Place, _arguments: Sequence[str]) -> int:
    """Install from nothing."""
    remove_venv(place)
    ensure(place, "run")
    return 0


WORDS = {
    "test": test,
    "check": check,
    "lock": lock,
    "sbom": sbom,
    "audit": audit,
    "repair": repair,
}


def main(arguments: Sequence[str], place: Place) -> int:
    """Do what the first word says; without a word, start."""
    word, rest = (arguments[0], arguments[1:]) if arguments else ("", [])
    try:
        if word in {"-h", "--help", "help"}:
            print(__doc__)
            return 0
        if word in WORDS:
            return WORDS[word](place, rest)
        if word.startswith("-") or not word:
            return start(place, arguments)
        print(f"'{word}' is not one of: {', '.join(WORDS)}. See start.py --help.", file=sys.stderr)
    except StartError as error:
        print(f"\n{error}", file=sys.stderr, flush=True)
    except KeyboardInterrupt:
        print("\nStopped.", file=sys.stderr, flush=True)
        return STOPPED
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:], Place(Path(__file__).resolve().parent)))
