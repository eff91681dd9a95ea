"""One command from a fresh checkout to a running program: ``python3 run.py demo`` or ``test``.

Needs Python 3.11 and its standard library, nothing else. What has to be done first (make ``.venv``,
install, compile the solver) is done once and said aloud; a stamp in ``.venv`` remembers it.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
LOCK = ROOT / "requirements.lock"
SOURCE = ROOT / "src" / "ullage"
OLDEST = (3, 11)

# What browser tests need of Debian, and how to tell that it is there.
DEBIAN_PACKAGES: dict[str, Callable[[], bool]] = {
    "chromium": lambda: browser() is not None,
    "libatomic1": lambda: bool(list(Path("/usr/lib").glob("*/libatomic.so.1"))),
    "fonts-dejavu-core": lambda: Path("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf").is_file(),
}

USAGE = """usage: python3 run.py COMMAND [arguments]

  demo     the whole job on the built-in example (arguments go to `ullage demo`)
  test     linters, types, import contracts, then every test (arguments go to pytest);
           --require-browser: tests that need a browser fail where there is none
  check    linters, types, import contracts, then the quick tests
  outside  our figures against figures of others, as a table
  bench    the benchmarks
  docs     the examples in the source, what must be documented, and the page docs/outside.md
  fmt      put the source into its form
  setup    only prepare: .venv, packages, compiled solver
"""


class Stop(Exception):
    """The person has to do something first; the message says what."""


def say(text: str) -> None:
    """Tell what happens, before it happens."""
    print(f"run.py: {text}", flush=True)


def run(words: Sequence[str | Path], **environment: str) -> int:
    """Run a program at the root of the checkout and return its exit code."""
    return subprocess.run(
        [str(word) for word in words], cwd=ROOT, env=surroundings(environment), check=False
    ).returncode


def surroundings(more: Mapping[str, str]) -> dict[str, str]:
    """Return the environment that programs run in.

    Without byte code each of them would translate every library anew: who wants none beside the
    sources gets it in ``.venv``."""
    # One thread each for linear algebra: small matrices only lose by more.
    whole = {"OPENBLAS_NUM_THREADS": "1", **os.environ, **more}
    if whole.pop("PYTHONDONTWRITEBYTECODE", ""):
        whole.setdefault("PYTHONPYCACHEPREFIX", str(VENV / "byte-code"))
    return whole


def python() -> Path:
    """Return the Python of the virtual environment."""
    return BIN / ("python.exe" if os.name == "nt" else "python")


# --- preparing ------------------------------------------------------------------------------------


def prepare() -> None:
    """Make the environment, install and compile, each only where that is not done yet."""
    need_python()
    once("installed", install_fingerprint, install)
    if (SOURCE / "transport" / "warm.py").is_file():
        once("compiled", kernel_fingerprint, compile_kernel)


def need_python() -> None:
    """Stop where this Python is too old or lacks what makes an environment."""
    if sys.version_info[:2] < OLDEST:
        have = ".".join(str(number) for number in sys.version_info[:3])
        want = ".".join(str(number) for number in OLDEST)
        raise Stop(f"Python {want} or newer is needed, this is {have}; try python{want} run.py")
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        raise Stop(
            "this Python can't make a virtual environment: its ensurepip is missing. "
            f"On Debian and Ubuntu: apt-get install python{sys.version_info[0]}-venv"
        )


def once(name: str, mark: Callable[[], str], work: Callable[[], None]) -> None:
    """Do some work unless a stamp says that it is done for what stands here now."""
    stamp = VENV / f"ullage-{name}.stamp"
    if stamp.is_file() and stamp.read_text() == mark() and python().exists():
        return
    started = time.monotonic()
    work()
    stamp.write_text(mark())
    say(f"{name} ({time.monotonic() - started:.0f} s)")


def install_fingerprint() -> str:
    """Tell apart: what is to be installed, by which Python, and where the checkout stands."""
    return fingerprint([sys.version, str(ROOT)], [ROOT / "pyproject.toml", LOCK])


def kernel_fingerprint() -> str:
    """Tell apart: what is compiled, and whether the compiled code is still there."""
    files = sorted((SOURCE / "transport").rglob("*.py"))
    cached = any((SOURCE / "transport").rglob("*.machine-code"))
    return fingerprint([install_fingerprint(), f"cached: {cached}"], files)


def fingerprint(texts: Iterable[str], files: Iterable[Path]) -> str:
    """Return a hash of some texts and of the content of some files."""
    whole = hashlib.sha256()
    for part in (*(text.encode() for text in texts), *(file.read_bytes() for file in files)):
        whole.update(len(part).to_bytes(8, "big") + part)
    return whole.hexdigest()


def install() -> None:
    """Make the virtual environment and install the package with all that its tests need."""
    if not (VENV / "pyvenv.cfg").is_file() or run([python(), "-m", "pip", "--version"]) != 0:
        say(f"making {VENV.name} with Python {sys.version.split()[0]}")
        if run([sys.executable, "-m", "venv", "--clear", VENV]) != 0:
            raise Stop(f"{VENV} could not be made; the lines above say why")
    say("installing the packages named in requirements.lock; the first time takes minutes")
    pip: list[str | Path] = [
        python(),
        "-m",
        "pip",
        "install",
        "--quiet",
        "--disable-pip-version-check",
    ]
    # Byte code is made when a module is first used: half of what lies here is never loaded.
    if run([*pip, "--no-compile", "--editable", ".[app,test]", "--constraint", LOCK]) != 0:
        raise Stop("the packages could not be installed; the lines above say why")


def compile_kernel() -> None:
    """Let the solver be compiled now, so that nobody waits for it later."""
    say("compiling the solver; once, up to a minute or two")
    if run([python(), "-m", "ullage.transport.warm"]) != 0:
        raise Stop("the solver could not be compiled; the lines above say why")


# --- browsers -------------------------------------------------------------------------------------


def browser() -> str | None:
    """Return the browser that tests may drive: Debian's, or the one that ULLAGE_BROWSER names."""
    return shutil.which(os.environ.get("ULLAGE_BROWSER") or "chromium")


def has_browser_tests() -> bool:
    """Tell whether any test is marked as needing a browser."""
    mark = re.compile(r"^\s*(@|pytestmark\s*=.*)pytest\.mark\.browser\b", re.MULTILINE)
    return any(mark.search(file.read_text("utf-8")) for file in (ROOT / "tests").rglob("test_*.py"))


def prepare_browser() -> None:
    """Install what browser tests need, where that can be done without asking: root on Debian."""
    missing = [name for name, is_there in DEBIAN_PACKAGES.items() if not is_there()]
    if not missing:
        return
    names = " ".join(missing)
    if not (Path("/etc/debian_version").is_file() and shutil.which("apt-get")):
        say(f"BROWSER TESTS LACK: {names}; this is no Debian, so install their like yourself")
    elif os.geteuid() != 0:
        say(f"BROWSER TESTS LACK: {names}; as root: apt-get install {names}")
    else:
        say(f"installing what the browser tests need: {names}")
        apt = ["apt-get", "--quiet", "--quiet", "--option", "Dpkg::Use-Pty=0"]
        run([*apt, "update"])
        install = [*apt, "install", "--yes", "--no-install-recommends", *missing]
        if run(install, DEBIAN_FRONTEND="noninteractive") != 0:
            say(f"BROWSER TESTS LACK: {names}; apt-get failed, the lines above say why")


# --- commands -------------------------------------------------------------------------------------


def demo(words: list[str]) -> int:
    """Walk through the built-in example."""
    return run([python(), "-m", "ullage", "demo", *words])


def gates() -> list[str]:
    """Run what judges the source without running it, and return the names of those that failed."""
    steps: dict[str, list[str | Path]] = {
        "ruff check": [BIN / "ruff", "check", "--quiet", "--output-format", "concise"],
        "ruff format": [BIN / "ruff", "format", "--check", "--output-format", "concise"],
        "mypy": [BIN / "mypy", "--no-error-summary"],
        "import contracts": [BIN / "lint-imports", "--no-logo"],
    }
    failed = []
    for name, words in steps.items():
        say(name)
        if run(words) != 0:
            failed.append(name)
    return failed


def pytest(words: Sequence[str | Path], **environment: str) -> int:
    """Run tests on all cores, unless the person asks for their own way.

    One more runs than there are cores: tests that drive servers and browsers mostly wait."""
    own_way = any(str(word).startswith(("-n", "--pdb", "--trace", "-s")) for word in words)
    spread = [] if own_way else ["-n", str((os.cpu_count() or 1) + 1)]
    return run([python(), "-m", "pytest", *spread, *words], **environment)


def test(words: list[str]) -> int:
    """Run everything; pytest comes last, so that its closing line is the last one."""
    environment = {}
    if "--require-browser" in words:
        words = [word for word in words if word != "--require-browser"]
        environment["ULLAGE_REQUIRE_BROWSER"] = "1"
    failed = gates()
    if has_browser_tests():
        prepare_browser()
    # pytest repeats them above its closing line: nobody should have to scroll for a failure.
    environment["ULLAGE_FAILED_GATES"] = ", ".join(failed)
    say("pytest")
    code = pytest(words, **environment)
    return code or (1 if failed else 0)


def check(words: list[str]) -> int:
    """Run what should pass before a commit."""
    failed = gates()
    quick = [ROOT / "tests" / name for name in ("unit", "laws", "contracts")]
    say("pytest")
    code = pytest(
        [
            "-m",
            "not slow and not browser",
            *(folder for folder in quick if any(folder.iterdir())),
            *words,
        ],
        ULLAGE_FAILED_GATES=", ".join(failed),
    )
    return code or (1 if failed else 0)


def outside(words: list[str]) -> int:
    """Print our figures beside those of others, with the differences that are allowed."""
    return run([python(), "-m", "tests.outside.table", *words])


def bench(words: list[str]) -> int:
    """Run every benchmark, or those named."""
    files = [file for file in sorted((ROOT / "bench").glob("*.py")) if is_bench(file)]
    chosen = [file for file in files if not words or file.stem in words]
    if not chosen:
        known = f"; there are: {', '.join(file.stem for file in files)}" if files else ""
        raise Stop(f"there is no benchmark {' or '.join(words) or 'yet'}{known}")
    codes = []
    for file in chosen:
        say(f"bench {file.stem}")
        codes.append(run(bench_words(file)))
    return max(codes)


def is_bench(file: Path) -> bool:
    """Tell whether a file is a benchmark, not what benchmarks stand on."""
    return '__name__ == "__main__"' in file.read_text("utf-8")


def bench_words(file: Path) -> list[str | Path]:
    """Return how a benchmark is started: as a module, for it imports others beside it."""
    return [python(), "-m", f"bench.{file.stem}"]


def docs(words: list[str]) -> int:
    """Run the examples in docstrings, ask whether all is described, and write the outside table."""
    code = pytest([ROOT / "src", ROOT / "tests" / "contracts", *words])
    return outside(["--markdown", "docs/outside.md"]) or code


def fmt(words: list[str]) -> int:
    """Put the source into its form."""
    fixed = run([BIN / "ruff", "check", "--fix", "--quiet", *words])
    return run([BIN / "ruff", "format", *words]) or fixed


def setup(words: list[str]) -> int:
    """Say that all is prepared: preparing came before."""
    say(f"ready: {BIN / 'ullage'} --help")
    return 0


COMMANDS: dict[str, Callable[[list[str]], int]] = {
    "demo": demo,
    "test": test,
    "check": check,
    "outside": outside,
    "bench": bench,
    "docs": docs,
    "fmt": fmt,
    "setup": setup,
}


def main(words: list[str]) -> int:
    """Prepare what is not prepared, then do what was asked."""
    if not words or words[0] in ("-h", "--help"):
        print(USAGE, end="")
        return 0 if words else 2
    if words[0] not in COMMANDS:
        print(f"run.py: there is no command {words[0]!r}\n\n{USAGE}", end="", file=sys.stderr)
        return 2
    try:
        prepare()
        return COMMANDS[words[0]](words[1:])
    except Stop as reason:
        print(f"run.py: {reason}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
