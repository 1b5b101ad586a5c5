"""Sets up and starts Evening Pour: ``python3 -m shop serve``, or tests it: ``python3 -m shop test``.

Needs nothing but Python and its standard library; everything else it installs into ``.venv``. Kept to
the syntax of Python 3.5, so that an old Python can read it and say which one is needed.
"""

import argparse
import contextlib
import hashlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading

from shop import environment, listening


def open_data_folder(chosen: str = "") -> str:
    """Make the data folder and its secret key if need be, tell the settings, and return its path.

    The folder is the one chosen, else EVENING_POUR_DATA, else data/ in the checkout.
    """
    path = os.path.abspath(
        chosen or os.environ.get("EVENING_POUR_DATA") or os.path.join(environment.ROOT, "data")
    )
    try:
        if not os.path.isdir(path):
            os.makedirs(os.path.dirname(path), exist_ok=True)
            os.mkdir(path, 0o700)
        with tempfile.TemporaryFile(dir=path):
            pass
    except OSError as error:
        raise environment.Trouble(
            "Cannot write in the data folder {} ({}): see to its rights and free disk, or choose another "
            "with --data DIR".format(path, error.strerror)
        )
    make_secret(os.path.join(path, "secret_key"), 32)
    os.environ["EVENING_POUR_DATA"] = path
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    return path


def make_secret(path: str, size: int) -> str:
    """Return the secret in a file, of so many random bytes, made once and readable by its owner only.

    An empty file is what a power cut leaves; it is made again. A secret is never overwritten, and one
    behind a link is refused: somebody else may have laid it there.
    """
    try:
        if os.path.islink(path):
            raise environment.Trouble(
                "{} is a link, and a secret must lie in the data folder itself: remove the link, or put "
                "the file in its place, then start again".format(path)
            )
        if os.path.exists(path) and os.path.getsize(path) == 0:
            os.remove(path)
        with contextlib.suppress(FileExistsError):
            write_secret(path, size)
        return read_secret(path)
    except (OSError, ValueError) as error:
        raise environment.Trouble(
            "Cannot keep a secret in {} ({}): see to the file's rights and free disk, or put the one from "
            "your back-up in its place, then start again".format(path, error)
        )


def write_secret(path: str, size: int) -> None:
    """Write so many random bytes, as hex, into a new file; raise FileExistsError if there is one."""
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        file.write(os.urandom(size).hex())  # the secrets module is newer than Python 3.5
        file.flush()
        os.fsync(file.fileno())


def read_secret(path: str) -> str:
    """Return a secret, and close its file to others if a copied back-up left it open to them."""
    no_link = getattr(os, "O_NOFOLLOW", 0)  # Windows has none
    with os.fdopen(os.open(path, os.O_RDONLY | no_link), encoding="ascii") as file:
        if not environment.ON_WINDOWS and os.fstat(file.fileno()).st_mode & 0o077:
            os.fchmod(file.fileno(), 0o600)
        return file.read().strip()


def serve(options: argparse.Namespace, arguments: list) -> int:
    """Set up what is missing and serve until Ctrl-C; return the exit code."""
    data = open_data_folder(options.data)
    refusal = (
        "Another Evening Pour serves the data folder {} already: use that one, stop it first, or "
        "choose another folder with --data DIR".format(data)
    )
    wanted = (options.host, options.port, options.lan, options.tls_cert, options.tls_key)
    with environment.locked(os.path.join(data, "serving.lock"), refusal):
        place = listening.find_place(*wanted)
    environment.enter_venv(environment.RUNTIME, ["-m", "shop"] + arguments)
    with environment.locked(os.path.join(data, "serving.lock"), refusal):
        os.umask(0o077)  # photos and exports are the shop's own business
        tell_settings(place)
        page = prepare_shop(data, options.demo)
        run_server(place, page)
    return 0


def tell_settings(place: listening.Place) -> None:
    """Tell the settings where the shop listens; names that the environment allows stay allowed."""
    os.environ["EVENING_POUR_DEBUG"] = "0"
    os.environ["EVENING_POUR_OWN_TLS"] = "1" if place.certificate else "0"
    allowed = [name for name in os.environ.get("ALLOWED_HOSTS", "").split(",") if name]
    os.environ["ALLOWED_HOSTS"] = ",".join(allowed + place.addresses)


def prepare_shop(data: str, demo: bool) -> str:
    """Bring database and static files up to date; return the path of the page to open first."""
    import django
    from django.core.exceptions import ImproperlyConfigured
    from django.db import DatabaseError, connection

    from shop import backups

    try:
        django.setup()
        connection.ensure_connection()
    except (DatabaseError, ImproperlyConfigured) as error:
        raise environment.Trouble(
            "The database cannot be opened ({}): see to DATABASE_URL, or put a backup in the place of "
            "db.sqlite3 in {}".format(" ".join(str(error).split()), data)
        )
    backups.migrate(data)
    try:
        collect_static_files(data)
        if demo:
            fill_demo()
        return first_page(data)
    except OSError as error:
        raise environment.Trouble(
            "Cannot write in the data folder {} ({}): see to its rights and free disk, then start "
            "again".format(data, error)
        )


def collect_static_files(data: str) -> None:
    """Collect the static files again if any of them changed since the last time."""
    from django.contrib.staticfiles.finders import get_finders
    from django.core.management import call_command

    seen = hashlib.sha256(environment.digest("requirements.txt").encode())
    for finder in get_finders():
        for path, storage in finder.list([]):
            with storage.open(path) as file:
                seen.update(path.encode() + hashlib.sha256(file.read()).digest())
    mark = os.path.join(data, "static.digest")
    if os.path.exists(mark):
        with open(mark, encoding="ascii") as file:
            if file.read() == seen.hexdigest():
                return
        os.remove(mark)
    shutil.rmtree(os.path.join(data, "static"), ignore_errors=True)
    call_command("collectstatic", interactive=False, verbosity=0)
    with open(mark, "w", encoding="ascii") as file:
        file.write(seen.hexdigest())


def set_up_already() -> bool:
    """Say whether the shop has an owner."""
    from django.contrib.auth import get_user_model

    return get_user_model().objects.exists()


def fill_demo() -> None:
    """Fill an empty shop with the invented one and print how to sign in; leave any other as it is."""
    from django.core.management import CommandError, call_command

    if set_up_already():
        environment.say("This shop is set up already: --demo changes nothing.")
        return
    environment.say("Filling the demo shop ...")
    password = os.urandom(6).hex()
    try:
        with open(os.devnull, "w") as quiet:
            call_command("demo", "--owner", "demo", "--password", password, stdout=quiet)
    except CommandError as error:
        environment.say(str(error))
        return
    environment.say("Demo shop: sign in as demo with the password {}".format(password))


def first_page(data: str) -> str:
    """Return the path to open: with nobody set up yet, the welcome page with its one-time code."""
    code = os.path.join(data, "first_run_code")
    if not set_up_already():
        return "/welcome/?code=" + make_secret(code, 12)
    if os.path.exists(code):
        os.remove(code)
    return "/"


def run_server(place: listening.Place, page: str) -> None:
    """Serve until Ctrl-C or a request to end; raise Trouble when the port was taken meanwhile."""
    from shop import serving
    from shop.wsgi import application

    # The handler only takes a note: an exception out of nowhere could leave worker threads behind.
    asked = []
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda number, frame: asked.append(number))
    server = serving.make_server(place, application)
    try:
        server.prepare()
    except OSError as error:
        raise environment.Trouble("Cannot listen on port {}: {}".format(place.port, error))
    thread = threading.Thread(target=server.serve)
    thread.start()
    greet(place, server.bind_addr[1], page)
    while thread.is_alive() and not asked:
        thread.join(0.2)
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.default_int_handler)
    environment.say("\nStopping.")
    server.stop()


def greet(place: listening.Place, port: int, page: str) -> None:
    """Print the link, for phones also as a QR code, and what its owner should know."""
    from shop import terminal_qr

    link = "{}://{}:{}{}".format(place.scheme, place.addresses[0], port, page)
    if page != "/":
        environment.say("Nobody is set up yet. Open this link to begin: " + link)
    else:
        environment.say("Evening Pour is open at " + link)
    code = "" if listening.is_loopback(place.host) else terminal_qr.for_this_terminal(link)
    if code:
        environment.say(code + "\nPoint a phone's camera at the square, or type the address.")
    for note in place.notes:
        environment.say(note)
    environment.say("Stop with Ctrl-C.")


def run_tests(arguments: list) -> int:
    """Run the test suite with pytest, on SQLite unless DATABASE_URL says otherwise.

    The whole suite runs on all cores; named tests run in one process, which starts sooner.
    """
    if not any(argument.startswith(("tests", "-n")) for argument in arguments):
        arguments = ["-n", "auto", "--dist", "loadscope"] + arguments
    environment.enter_venv(environment.TESTING, ["-m", "shop", "test"] + arguments)
    with tempfile.TemporaryDirectory(prefix="evening-pour-") as data:
        open_data_folder(data)
        os.environ.pop("EVENING_POUR_DEBUG", None)
        os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")  # for the browser's event loop
        return subprocess.call([sys.executable, "-m", "pytest"] + arguments, cwd=environment.ROOT)


def parse(arguments: list) -> argparse.Namespace:
    """Read the command line; exits with a message when it makes no sense."""
    parser = argparse.ArgumentParser(prog="python3 -m shop", description="Evening Pour")
    commands = parser.add_subparsers(dest="command", metavar="serve | test")
    commands.required = True
    serving = commands.add_parser("serve", help="set up what is missing and serve the shop")
    where = serving.add_mutually_exclusive_group()
    where.add_argument("--host", default="127.0.0.1", help="where to listen (%(default)s)")
    where.add_argument("--lan", action="store_true", help="let phones in the same network in")
    serving.add_argument("--port", type=int, default=8000, help="(%(default)s)")
    serving.add_argument(
        "--tls-cert", metavar="FILE", default="", help="serve HTTPS with this certificate"
    )
    serving.add_argument(
        "--tls-key", metavar="FILE", default="", help="and this private key, both PEM"
    )
    serving.add_argument("--data", metavar="DIR", help="the shop's folder (data, in the checkout)")
    serving.add_argument(
        "--demo", action="store_true", help="fill an empty shop with an invented one"
    )
    commands.add_parser("test", help="run the tests; what follows goes to pytest", add_help=False)
    return parser.parse_args(arguments)


def main(arguments: list) -> int:
    """Run one command and return the exit code."""
    try:
        environment.check_python(sys.version_info[:3])
        if arguments[:1] == ["test"]:
            return run_tests(arguments[1:])
        return serve(parse(arguments), arguments)
    except environment.Trouble as trouble:
        print("Evening Pour: {}".format(trouble), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped.", file=sys.stderr)
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
