"""The Python environment in .venv: made on first use, mended when half-made, moved or outgrown.

Kept to the standard library and the syntax of Python 3.5, like the start-up that uses it.
"""

import contextlib
import hashlib
import json
import os
import signal
import subprocess
import sys

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
VENV = os.path.join(ROOT, ".venv")
STAMP = os.path.join(VENV, "installed.json")
INSTALL_LOG = os.path.join(VENV, "install.log")
RUNTIME = ("requirements.txt",)
TESTING = ("requirements.txt", "tests/requirements.txt")
OLDEST_PYTHON = (3, 11)
ON_WINDOWS = os.name == "nt"


class Trouble(Exception):
    """Something the person at the keyboard can mend; the message is one line and says how."""


def say(text: str) -> None:
    """Print at once, also when the output goes into a file or a pipe."""
    print(text, flush=True)


def check_python(version: tuple) -> None:
    """Raise Trouble when the running Python is older than the packages allow."""
    if version[:2] < OLDEST_PYTHON:
        raise Trouble(
            "Evening Pour needs Python {}.{} or newer and this is {}.{}: install a newer one and start "
            "again with it, for example: python3.13 -m shop serve".format(
                *OLDEST_PYTHON + version[:2]
            )
        )


@contextlib.contextmanager
def locked(path: str, refusal: str):
    """Hold a lock file that dies with the process; raise Trouble(refusal) when another holds it."""
    try:
        file = open(path, "a")  # noqa: SIM115
    except OSError as error:
        raise Trouble(
            "Cannot write {} ({}): see to its folder's rights.".format(path, error.strerror)
        )
    with file:
        try:
            if ON_WINDOWS:
                import msvcrt

                file.seek(0)
                msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise Trouble(refusal)
        yield


def venv_python() -> str:
    """Return the path of the Python inside .venv, whether or not it exists."""
    return os.path.join(VENV, "Scripts", "python.exe") if ON_WINDOWS else VENV + "/bin/python"


def in_venv() -> bool:
    """Say whether this very process runs in .venv."""
    return os.path.realpath(sys.prefix) == os.path.realpath(VENV)


def python_in_venv() -> str:
    """Return the version that .venv's Python says it is, empty when it does not run."""
    ask = [venv_python(), "-c", "import sys; print('%d.%d' % sys.version_info[:2])"]
    try:
        answer = subprocess.check_output(ask, stderr=subprocess.DEVNULL, universal_newlines=True)
    except (OSError, subprocess.CalledProcessError):
        return ""
    return answer.strip()


def read_stamp() -> dict:
    """Return what was installed to the end: list name to its digest, and where and for which Python."""
    try:
        with open(STAMP, encoding="utf-8") as file:
            stamp = json.load(file)
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) else {}


def write_stamp(stamp: dict) -> None:
    """Write the stamp whole or not at all."""
    with open(STAMP + ".new", "w", encoding="utf-8") as file:
        json.dump(stamp, file, indent=1, sort_keys=True)
    os.replace(STAMP + ".new", STAMP)


def digest(path: str) -> str:
    """Return the SHA-256 of a file below the checkout, as hex."""
    with open(os.path.join(ROOT, path), "rb") as file:
        return hashlib.sha256(file.read()).hexdigest()


def prepare_venv(lists: tuple) -> bool:
    """Make .venv hold the pinned packages of these lists; return whether anything had to be done.

    Costs one short process when all is in place. A moved, broken or outgrown .venv is made anew, a
    half-made one is completed: the stamp is written only after the last package is in.
    """
    wanted = {name: digest(name) for name in lists}
    stamp, version = read_stamp(), python_in_venv()
    fits = version == stamp.get("python", version) and stamp.get("location", VENV) == VENV
    if fits and version and all(stamp.get(name) == wanted[name] for name in lists):
        return False
    with locked(VENV + ".lock", "Another start is installing packages: wait, then start again."):
        try:
            complete_venv(stamp if fits else {}, wanted, anew=not (fits and version and pip_runs()))
        except OSError as error:
            raise Trouble(
                "Cannot set up {} ({}): see to the folder's rights and free disk, then start "
                "again".format(VENV, error.strerror)
            )
    return True


def complete_venv(stamp: dict, wanted: dict, anew: bool) -> None:
    """Install the wanted lists that the stamp does not vouch for, and write the new stamp."""
    if anew:
        stamp = {}
        make_venv()
    if os.path.exists(STAMP):
        os.remove(STAMP)
    for name in sorted(wanted):
        if stamp.get(name) != wanted[name]:
            install(name)
    write_stamp(dict(stamp, location=VENV, python=python_in_venv(), **wanted))


def pip_runs() -> bool:
    """Say whether .venv has a working pip; an interrupted set-up leaves none."""
    ask = [venv_python(), "-m", "pip", "--version"]
    return subprocess.call(ask, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) == 0


def make_venv() -> None:
    """Make .venv from nothing, removing what is there."""
    try:
        import ensurepip  # noqa: F401
        import venv  # noqa: F401
    except ImportError:
        raise Trouble(
            "This Python has no venv module: install it (on Debian and Ubuntu: sudo apt install "
            "python3-venv), then start again."
        )
    say("Making a Python environment in .venv (once) ...")
    if os.path.islink(VENV):
        os.remove(VENV)  # clearing through the link would empty somebody else's environment
    command = [sys.executable, "-m", "venv", "--clear", VENV]
    made = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    if made.returncode:
        last = made.stdout.decode(errors="replace").strip().splitlines()[-1:] or ["no reason given"]
        raise Trouble(
            "Making .venv failed ({}): delete {}, then start again.".format(last[0], VENV)
        )


def install(name: str) -> None:
    """Install one pinned list with pip, every file checked against its digest."""
    say("Installing the packages of {} (once; a minute or two) ...".format(name))
    command = [venv_python(), "-m", "pip", "install", "--require-hashes", "--only-binary=:all:"]
    command += ["--no-input", "--disable-pip-version-check", "-r", os.path.join(ROOT, name)]
    with open(INSTALL_LOG, "wb") as log:
        failed = subprocess.call(command, stdout=log, stderr=subprocess.STDOUT, cwd=ROOT)
    if failed:
        with open(INSTALL_LOG, encoding="utf-8", errors="replace") as log:
            errors = [line.strip() for line in log if line.startswith("ERROR:")]
        raise Trouble(
            "Installing packages failed ({}): see to the network and free disk, then start again; all "
            "that pip said is in {}".format((errors or ["no reason given"])[-1], INSTALL_LOG)
        )


def enter_venv(lists: tuple, arguments: list) -> None:
    """Return when this process runs in an up-to-date .venv; else go on there with these arguments."""
    if not prepare_venv(lists) and in_venv():
        return
    command = [venv_python()] + arguments
    if not ON_WINDOWS:
        os.execv(command[0], command)
    # Windows has no exec that keeps the console: wait, and leave Ctrl-C to the child.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    sys.exit(subprocess.call(command))
