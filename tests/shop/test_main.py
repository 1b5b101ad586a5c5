"""The one command that sets up, starts and stops the shop, run as a person would run it."""

import ast
import base64
import contextlib
import dataclasses
import hashlib
import os
import re
import shutil
import signal
import socket
import sqlite3
import stat
import subprocess
import sys
import threading
import time
import urllib.request
import zipfile
from pathlib import Path

import pytest
from django.contrib.auth.hashers import check_password
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from shop import __main__ as start_up
from shop import backups, environment

ROOT = Path(environment.ROOT)
START_UP = ["shop/__main__.py", "shop/environment.py", "shop/listening.py", "manage.py"]
needs_posix = pytest.mark.skipif(os.name == "nt", reason="rights and signals of POSIX")


def clean_environment(**more: str) -> dict[str, str]:
    """The environment without what would lead a started shop to another one's data."""
    ours = ("EVENING_POUR_", "DJANGO_", "DATABASE_URL", "ALLOWED_HOSTS", "SECRET_KEY")
    return {name: text for name, text in os.environ.items() if not name.startswith(ours)} | more


def run(folder: Path, *arguments: str, **more: str) -> subprocess.CompletedProcess:
    """Run Python in a checkout to the end."""
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=folder,
        env=clean_environment(**more),
        capture_output=True,
        text=True,
        timeout=300,
    )


def refusal(result: subprocess.CompletedProcess) -> str:
    """The one line with which a start was refused."""
    assert result.returncode == 1, result.stdout + result.stderr
    lines = result.stderr.splitlines()
    assert len(lines) == 1, result.stderr
    assert lines[0].startswith("Evening Pour: ")
    return lines[0]


@pytest.fixture
def checkout(tmp_path) -> Path:
    return make_checkout(tmp_path)


def make_checkout(where: Path) -> Path:
    """A checkout with the start-up alone, and nothing to install."""
    folder = where / "checkout"
    (folder / "shop").mkdir(parents=True)
    for name in [*START_UP, "shop/__init__.py"]:
        shutil.copy(ROOT / name, folder / name)
    (folder / "requirements.txt").write_text("# nothing yet\n")
    return folder


def make_wheel(folder: Path) -> str:
    """Write a wheel of one module (PyPA binary distribution format 1.0) and return its pinned line."""
    info = "shelf_label-1.0.dist-info"
    files = {
        "shelf_label.py": "TEXT = 'keep cool and dark'\n",
        f"{info}/METADATA": "Metadata-Version: 2.1\nName: shelf-label\nVersion: 1.0\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = ""
    for name, text in files.items():
        checksum = base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).rstrip(b"=")
        record += f"{name},sha256={checksum.decode()},{len(text)}\n"
    files[f"{info}/RECORD"] = record + f"{info}/RECORD,,\n"
    folder.mkdir()
    path = folder / "shelf_label-1.0-py3-none-any.whl"
    with zipfile.ZipFile(path, "w") as wheel:
        for name, text in files.items():
            wheel.writestr(name, text)
    return f"shelf-label==1.0 --hash=sha256:{hashlib.sha256(path.read_bytes()).hexdigest()}\n"


@pytest.mark.parametrize("name", START_UP)
def test_start_up_can_be_read_by_python_3_5(name):
    # Python's own parser, asked for the grammar of 3.5; formatted strings came with 3.6 (PEP 498).
    tree = ast.parse((ROOT / name).read_text(), feature_version=(3, 5))
    assert not [node.lineno for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)]


def test_start_up_imports_nothing_that_must_be_installed():
    for name in START_UP[:3]:
        for node in ast.parse((ROOT / name).read_text()).body:
            if isinstance(node, ast.Import):
                assert {alias.name for alias in node.names} <= sys.stdlib_module_names
            if isinstance(node, ast.ImportFrom):
                assert node.module == "shop"


def test_an_old_python_is_told_which_one_is_needed():
    with pytest.raises(environment.Trouble, match=r"needs Python 3\.11 or newer and this is 3\.10"):
        environment.check_python((3, 10, 13))
    environment.check_python((3, 11, 0))


def test_a_python_without_venv_is_told_what_to_install(checkout, tmp_path):
    # Debian ships Python without ensurepip until python3-venv is installed.
    hidden = tmp_path / "hidden"
    hidden.mkdir()
    (hidden / "ensurepip.py").write_text("raise ImportError('not here')\n")
    result = run(checkout, "-m", "shop", "serve", "--port", "0", PYTHONPATH=str(hidden))
    assert "apt install python3-venv" in refusal(result)


def test_a_busy_port_is_named_with_another_to_try(checkout, tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        result = run(checkout, "-m", "shop", "serve", "--port", str(port))
    assert re.search(rf"Port {port} is busy: .*--port \d+$", refusal(result))


@pytest.mark.parametrize(
    ("option", "wrong", "answer"),
    [("--host", "192.0.2.1", "no address 192.0.2.1"), ("--port", "70000", "no port 70000")],
)
def test_an_address_that_cannot_be_is_refused(checkout, option, wrong, answer):
    # 192.0.2.0/24 is set aside for documentation (RFC 5737): no machine has it.
    assert answer in refusal(run(checkout, "-m", "shop", "serve", option, wrong))


def test_a_folder_that_cannot_be_written_is_refused(checkout, tmp_path):
    (tmp_path / "note").write_text("a file where a folder should be")
    result = run(checkout, "-m", "shop", "serve", "--data", str(tmp_path / "note" / "data"))
    assert "--data DIR" in refusal(result)


def test_a_second_server_on_the_same_data_is_refused(checkout, tmp_path):
    data = tmp_path / "data"
    data.mkdir()
    with environment.locked(str(data / "serving.lock"), "free before"):
        result = run(checkout, "-m", "shop", "serve", "--data", str(data))
    assert "serves the data folder" in refusal(result)


@needs_posix
def test_the_data_folder_and_its_key_are_the_owners_alone_whatever_the_umask(checkout, tmp_path):
    # The port is refused only after folder and key are made.
    start = "import os, runpy, sys; os.umask(0); sys.argv[1:] = ['serve', '--port', '70000']; "
    start += "runpy.run_module('shop', run_name='__main__')"
    data = tmp_path / "deep" / "data"
    refusal(run(checkout, "-c", start, EVENING_POUR_DATA=str(data)))
    assert (mode(data), mode(data / "secret_key")) == (0o700, 0o600)


@needs_posix
def test_a_key_behind_a_link_is_refused_and_what_it_leads_to_is_left_alone(checkout, tmp_path):
    data, theirs = tmp_path / "data", tmp_path / "theirs"
    data.mkdir()
    (data / "secret_key").symlink_to(theirs)
    for content in (None, "", "known to somebody else"):
        if content is not None:
            theirs.write_text(content)
        result = run(checkout, "-m", "shop", "serve", "--port", "0", "--data", str(data))
        assert "secret_key is a link" in refusal(result)
        assert theirs.exists() == (content is not None)
    assert theirs.read_text() == "known to somebody else"


@needs_posix
def test_a_key_copied_back_open_to_all_is_closed_and_kept(tmp_path):
    path = tmp_path / "secret_key"
    path.write_text("from the back-up")
    path.chmod(0o644)
    assert start_up.make_secret(str(path), 32) == "from the back-up"
    assert mode(path) == 0o600


def test_a_key_that_a_power_cut_left_empty_is_made_again(tmp_path):
    path = tmp_path / "secret_key"
    path.touch()
    made = start_up.make_secret(str(path), 32)
    assert len(made) == 64 and start_up.make_secret(str(path), 32) == made
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(environment.Trouble, match="put the one from your back-up in its place"):
        start_up.make_secret(str(path), 32)


@pytest.mark.parametrize("option", ["--tls-cert", "--tls-key"])
def test_half_of_a_tls_pair_is_refused_before_anything_is_installed(checkout, option):
    result = run(checkout, "-m", "shop", "serve", "--port", "0", option, "bench.pem")
    assert "belong together" in refusal(result)
    assert not (checkout / ".venv").exists()


@pytest.mark.parametrize("windows", [True, False])
def test_python_is_looked_for_where_this_system_keeps_it(monkeypatch, windows):
    # Where venv puts it: https://docs.python.org/3/library/venv.html
    monkeypatch.setattr(environment, "ON_WINDOWS", windows)
    parts = Path(environment.venv_python()).relative_to(environment.VENV).parts
    assert parts == (("Scripts", "python.exe") if windows else ("bin", "python"))


def test_start_up_calls_nothing_that_only_some_systems_have():
    # Missing on Windows: https://docs.python.org/3/library/os.html. fchmod and execv stand behind a question.
    for name in START_UP:
        code = (ROOT / name).read_text()
        assert not re.search(r"os\.(fork|geteuid|getuid|chown|uname|mkfifo)\b", code), name


@pytest.fixture(scope="module")
def interrupted(tmp_path_factory) -> tuple[subprocess.Popen, str, bool, Path]:
    """A set-up stopped in the middle: the process, its complaints, whether it said “done”, the checkout."""
    folder = make_checkout(tmp_path_factory.mktemp("interrupted"))
    process = subprocess.Popen(
        [sys.executable, "manage.py", "check"],
        cwd=folder,
        env=clean_environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert "Making a Python environment" in process.stdout.readline()
    for _ in range(600):  # until .venv is there in part
        if (folder / ".venv" / "pyvenv.cfg").exists():
            break
        time.sleep(0.05)
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does
    _, errors = process.communicate(timeout=60)
    return process, errors, (folder / ".venv" / "installed.json").exists(), folder


@pytest.fixture(scope="module")
def mended(interrupted) -> tuple[subprocess.CompletedProcess, Path]:
    """The start after the interrupted one, and the checkout with the environment that it made."""
    folder = interrupted[-1]
    script = "from shop import environment; environment.prepare_venv(environment.RUNTIME)"
    return run(folder, "-c", script), folder


@needs_posix
def test_control_c_in_the_middle_of_the_set_up_is_mended_by_the_next_start(interrupted, mended):
    process, errors, installed, _folder = interrupted
    assert (process.returncode, errors, installed) == (130, "\nStopped.\n", False)
    done, folder = mended
    assert done.returncode == 0, done.stderr
    assert "Making a Python environment" in done.stdout
    assert (folder / ".venv" / "installed.json").exists()


def test_two_starts_do_not_install_at_once(checkout):
    with environment.locked(str(checkout / ".venv.lock"), "free before"):
        result = run(checkout, "-m", "shop", "serve", "--port", "0")
    assert "Another start is installing packages" in refusal(result)


@needs_posix
def test_a_failed_install_is_explained_and_mended_by_the_next_start(mended, tmp_path):
    _done, checkout = mended
    pinned = make_wheel(tmp_path / "wheels")
    offline = {
        "PIP_CONFIG_FILE": os.devnull,
        "PIP_NO_INDEX": "1",
        "PIP_FIND_LINKS": str(tmp_path / "wheels"),
    }
    stamp = checkout / ".venv" / "installed.json"
    assert stamp.exists()
    label = "from shop import environment; environment.enter_venv(environment.RUNTIME, ['-c', "
    label += "'import shelf_label; print(shelf_label.TEXT)'])"

    # A file that differs from its digest must never get in (pip's hash-checking mode).
    other = pinned.split("sha256:")[0] + "sha256:" + "0" * 64 + "\n"
    (checkout / "requirements.txt").write_text(other)
    result = run(checkout, "manage.py", "check", **offline)
    assert "Installing packages failed (ERROR: " in refusal(result)
    assert not stamp.exists()

    (checkout / "requirements.txt").write_text(pinned)
    result = run(checkout, "-c", label, **offline)
    assert result.stdout.splitlines()[-1] == "keep cool and dark", result.stderr
    assert "Making" not in result.stdout
    assert stamp.exists()

    # All in place: nothing is installed, so no package needs to be found.
    result = run(checkout, "-c", label, **offline | {"PIP_FIND_LINKS": ""})
    assert result.stdout == "keep cool and dark\n", result.stderr

    # A checkout that was moved gets a new environment instead of one that points to the old place. One
    # that lies behind a link is left to whoever put it there.
    moved, theirs = tmp_path / "moved", tmp_path / "theirs"
    shutil.copytree(checkout, moved, symlinks=True, ignore=shutil.ignore_patterns(".venv"))
    (checkout / ".venv").rename(theirs)
    (theirs / "kept").write_text("by its owner")
    (moved / ".venv").symlink_to(theirs)
    result = run(moved, "-c", label, **offline)
    assert "Making a Python environment" in result.stdout
    assert result.stdout.splitlines()[-1] == "keep cool and dark", result.stderr
    assert (theirs / "kept").read_text() == "by its owner"
    assert (theirs / "pyvenv.cfg").exists()
    assert not (moved / ".venv").is_symlink()
    assert not (moved / ".venv" / "kept").exists()


@contextlib.contextmanager
def serving(data: Path, *options: str):
    """Start the shop of this checkout and yield the process and what it said up to 'Stop with'."""
    process = subprocess.Popen(
        [sys.executable, "-m", "shop", "serve", "--port", "0", "--data", str(data), *options],
        cwd=ROOT,
        env=clean_environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    limit = threading.Timer(240, process.kill)
    limit.start()
    said = []
    try:
        for line in process.stdout:
            said.append(line)
            if line.startswith("Stop with"):
                break
        yield process, "".join(said)
    finally:
        limit.cancel()
        process.kill()
        process.wait()
        process.stdout.close()


def stop(process: subprocess.Popen) -> str:
    """Press Ctrl-C; return what the server still said."""
    process.send_signal(signal.SIGINT)
    rest = process.stdout.read()
    assert process.wait(timeout=60) == 0, rest
    return rest


def manage(data: Path, script: str) -> str:
    """Run a line of Python on a shop that is not being served; return what it printed."""
    script = (
        "from django.contrib.auth import get_user_model; from shop.models import Shop; " + script
    )
    result = run(ROOT, "manage.py", "shell", "-v", "0", "-c", script, EVENING_POUR_DATA=str(data))
    assert result.returncode == 0, result.stderr
    return result.stdout.strip()


def link_in(said: str) -> str:
    """The link that was printed."""
    return re.search(r"http://127\.0\.0\.1:\d+/\S*", said).group()


def mode(path: Path) -> int:
    """The rights on a file."""
    return stat.S_IMODE(path.stat().st_mode)


@dataclasses.dataclass
class FirstStart:
    """What the first start in a new data folder said and gave."""

    data: Path
    link: str
    code: str
    status: int
    style: str
    second: subprocess.CompletedProcess
    last_words: str


@pytest.fixture(scope="module")
def first_start(tmp_path_factory) -> FirstStart:
    """The shop started from nothing, looked at, and stopped. What it left is for copying only."""
    data = tmp_path_factory.mktemp("new") / "shop data"
    with serving(data) as (process, said):
        link = link_in(said)
        code = (data / "first_run_code").read_text()
        with urllib.request.urlopen(link, timeout=60) as page:
            status = page.status
            sheet = re.search(r'href="(/static/[^"]+\.css)"', page.read().decode()).group(1)
        with urllib.request.urlopen(re.sub("/welcome/.*", sheet, link), timeout=60) as answer:
            style = answer.headers["Content-Type"]
        second = run(ROOT, "-m", "shop", "serve", "--port", "0", "--data", str(data))
        return FirstStart(data, link, code, status, style, second, stop(process))


@pytest.fixture
def empty_shop(first_start, tmp_path) -> Path:
    """A copy of the data folder that the first start left: nobody is set up in it yet."""
    return Path(shutil.copytree(first_start.data, tmp_path / "data"))


@needs_posix
def test_a_new_shop_starts_with_one_command_and_stops_with_control_c(first_start):
    data, code = first_start.data, first_start.code
    assert "/welcome/?code=" + code in first_start.link
    assert first_start.status == 200
    assert first_start.style.startswith("text/css")
    assert "serves the data folder" in refusal(first_start.second)
    assert first_start.last_words == "\nStopping.\n"
    assert mode(data) == 0o700
    assert mode(data / "secret_key") == mode(data / "first_run_code") == 0o600
    assert mode(data / "db.sqlite3") == 0o600
    assert len((data / "secret_key").read_text()) >= 50  # Django's check security.W009


@needs_posix
def test_the_next_start_finds_all_in_place(first_start, empty_shop):
    with serving(empty_shop) as (process, said):
        assert said.count("\n") == 2, said
        assert not (empty_shop / "backups").exists()  # nothing was older than the code
        assert link_in(said).endswith("/welcome/?code=" + first_start.code)
        stop(process)
    key = (empty_shop / "secret_key").read_text()
    assert key == (first_start.data / "secret_key").read_text()


def test_a_damaged_database_is_reported_and_left_as_it_is(tmp_path):
    damaged = b"not a database, but all that is left of one" * 100
    (tmp_path / "db.sqlite3").write_bytes(damaged)
    result = run(ROOT, "-m", "shop", "serve", "--port", "0", "--data", str(tmp_path))
    assert "database cannot be opened" in refusal(result)
    assert (tmp_path / "db.sqlite3").read_bytes() == damaged


@needs_posix
def test_an_update_of_the_database_begins_with_a_back_up_of_all_that_was_written(empty_shop):
    database, folder = empty_shop / "db.sqlite3", empty_shop / "backups"
    manage(empty_shop, "Shop.objects.create(id=1, name='Left bank')")
    with contextlib.closing(sqlite3.connect(database)) as older:
        # As it was before anybody could sign in.
        older.execute("DROP TABLE django_session")
        older.execute("DELETE FROM django_migrations WHERE app = 'sessions'")
        older.commit()
    folder.mkdir(mode=0o700)
    older = [folder / f"db-20260101-0000{second:02}.sqlite3" for second in range(12)]
    for path in [*older, folder / "db of the old bench.sqlite3.txt"]:
        path.touch()

    with contextlib.closing(sqlite3.connect(database)) as other:
        # The last change waits in the write-ahead log, so a copy of the file alone would miss it.
        other.execute("PRAGMA wal_autocheckpoint=0")
        other.execute("UPDATE shop_shop SET name = 'Right bank'")
        other.commit()
        assert b"Right bank" not in database.read_bytes()
        with serving(empty_shop) as (process, said):
            stop(process)

    copy = Path(re.search(r"it is in (.+)", said).group(1))
    assert re.fullmatch(r"db-\d{8}-\d{6}\.sqlite3", copy.name)
    assert (mode(folder), mode(copy)) == (0o700, 0o600)
    kept = {*older[-9:], copy, folder / "db of the old bench.sqlite3.txt"}
    assert set(folder.iterdir()) == kept
    with contextlib.closing(sqlite3.connect(copy)) as before:
        tables = {name for (name,) in before.execute("SELECT name FROM sqlite_master")}
        assert before.execute("SELECT name FROM shop_shop").fetchall() == [("Right bank",)]
    assert "django_session" not in tables  # the back-up is of the time before the update
    count = "from django.contrib.sessions.models import Session; print(Session.objects.count())"
    assert manage(empty_shop, count) == "0"


def test_a_database_address_that_cannot_be_read_is_refused(tmp_path):
    for address in ("nonsense", "postgres://bench.invalid:port/shop"):
        result = run(
            ROOT,
            *("-m", "shop", "serve", "--port", "0", "--data", str(tmp_path)),
            DATABASE_URL=address,
        )
        assert "see to DATABASE_URL" in refusal(result)


@needs_posix
def test_an_update_that_fails_half_way_names_the_back_up_and_loses_none(empty_shop):
    # The table that the last migration makes stands in its way.
    with contextlib.closing(sqlite3.connect(empty_shop / "db.sqlite3")) as old:
        old.execute("DELETE FROM django_migrations WHERE app = 'sessions'")
        old.commit()
    (empty_shop / "backups").mkdir()
    older = [
        empty_shop / "backups" / f"db-20260101-0000{second:02}.sqlite3" for second in range(12)
    ]
    for path in older:
        path.touch()
    result = run(ROOT, "-m", "shop", "serve", "--port", "0", "--data", str(empty_shop))
    line = refusal(result)
    assert "failed half-way" in line and "django_session" in line
    copy = Path(re.search(r"to go back, put (.+) in the place of db\.sqlite3", line)[1])
    with contextlib.closing(sqlite3.connect(copy)) as before:
        apps = {app for (app,) in before.execute("SELECT app FROM django_migrations")}
    assert "shop" in apps and "sessions" not in apps
    assert set(older) < set((empty_shop / "backups").iterdir())
    assert "Traceback" in (empty_shop / "failed_update.txt").read_text()


def test_without_a_back_up_the_database_is_not_changed(tmp_path):
    (tmp_path / "backups").write_text("a file where a folder should be")
    with contextlib.closing(sqlite3.connect(tmp_path / "db.sqlite3")) as old:
        old.execute("CREATE TABLE shelf (jar)")
    result = run(ROOT, "-m", "shop", "serve", "--port", "0", "--data", str(tmp_path))
    assert "No back-up could be written" in refusal(result)
    with contextlib.closing(sqlite3.connect(tmp_path / "db.sqlite3")) as left:
        assert left.execute("SELECT name FROM sqlite_master").fetchall() == [("shelf",)]


def test_a_database_newer_than_the_code_is_refused(tmp_path):
    with contextlib.closing(sqlite3.connect(tmp_path / "db.sqlite3")) as newer:
        newer.execute(
            "CREATE TABLE django_migrations (id integer PRIMARY KEY, app text, name text, applied text)"
        )
        newer.execute(
            "INSERT INTO django_migrations VALUES (1, 'production', '0999_gauge', '2030-01-01')"
        )
        newer.commit()
    result = run(ROOT, "-m", "shop", "serve", "--port", "0", "--data", str(tmp_path))
    told = refusal(result)
    assert "newer than this code (production.0999_gauge" in told
    assert told.endswith(f"update the code, or take the back-up from {tmp_path / 'backups'}")
    assert not (tmp_path / "backups").exists()
    with contextlib.closing(sqlite3.connect(tmp_path / "db.sqlite3")) as left:
        assert left.execute("SELECT count(*) FROM sqlite_master").fetchone() == (1,)


def judge(extra=(), squashed=()):
    """Let the start-up judge a database that also remembers these migrations, in this order."""
    recorder = MigrationRecorder(connection)
    for app, name in extra:
        recorder.record_applied(app, name)
    for app, name in squashed:
        recorder.record_unapplied(app, name)
        recorder.record_applied(app, name)
    backups.refuse_newer(MigrationLoader(connection), "backups")


def test_what_a_retired_app_left_behind_is_no_newer_database(db):
    judge(extra=[("kiln", "0001_initial"), ("kiln", "0002_gauge")])


def test_migrations_squashed_away_are_no_newer_database(db):
    # Their parts were applied before the squashed one was; it is the one the code still knows.
    judge(
        extra=[("shop", "0001_first_try"), ("shop", "0002_second_try")],
        squashed=[("shop", "0001_initial")],
    )


def test_a_migration_after_all_that_the_code_knows_is_a_newer_database(db):
    with pytest.raises(environment.Trouble, match=r"shop\.0999_gauge is unknown here"):
        judge(extra=[("shop", "0999_gauge")])


@pytest.mark.skipif(connection.vendor != "postgresql", reason="about PostgreSQL")
def test_on_postgresql_the_back_up_is_left_to_pg_dump(db, tmp_path, capsys):
    backups.before_migrating(str(tmp_path))
    assert capsys.readouterr().out == ""  # nothing to update
    recorder = MigrationRecorder(connection)
    recorder.record_unapplied("sessions", "0001_initial")
    backups.before_migrating(str(tmp_path))
    assert "pg_dump" in capsys.readouterr().out
    recorder.record_applied("production", "0999_gauge")
    with pytest.raises(
        environment.Trouble, match="update the code, or take the back-up .* pg_dump"
    ):
        backups.before_migrating(str(tmp_path))
    assert list(tmp_path.iterdir()) == []


@needs_posix
def test_the_demo_fills_an_empty_shop_once_and_never_again(empty_shop):
    with serving(empty_shop, "--demo") as (process, said):
        owner, password = re.search(r"sign in as (\S+) with the password (\S+)", said).groups()
        assert "welcome" not in said
        stop(process)
    with contextlib.closing(sqlite3.connect(empty_shop / "db.sqlite3")) as filled:
        ask = "SELECT password, role FROM shop_user WHERE username = ?"
        encoded, role = filled.execute(ask, [owner]).fetchone()
    assert check_password(password, encoded)
    assert role == "owner"

    with serving(empty_shop, "--demo") as (process, said):
        assert "--demo changes nothing" in said
        assert "password" not in said
        stop(process)


@needs_posix
def test_the_demo_leaves_a_shop_with_data_alone_and_serves_on(empty_shop):
    manage(empty_shop, "Shop.objects.create(id=1, name='Left bank')")
    with serving(empty_shop, "--demo") as (process, said):
        assert "No demo: " in said
        assert "/welcome/?code=" in link_in(said)
        stop(process)
    assert manage(empty_shop, "print(Shop.objects.get().name)") == "Left bank"
