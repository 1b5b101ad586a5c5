"""Sets up and starts Evening Pour: ``python3 -m shop serve``, or tests it: ``python3 -m shop test``.

Needs nothing but Python and its standard library; everything else it installs into ``.venv``. Kept to
the syntax of Python 3.5, so that an old Python can read it and say which one is needed.
"""

import argparse
import errno
import hashlib
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading

from shop import environment


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
        make_secret(os.path.join(path, "secret_key"), 32)
    except OSError as error:
        raise environment.Trouble(
            "Cannot write in the data folder {} ({}): see to its rights and free disk, or choose another "
            "with --data DIR".format(path, error.strerror)
        )
    os.environ["EVENING_POUR_DATA"] = path
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    return path


def make_secret(path: str, size: int) -> str:
    """Return the secret in a file, of so many random bytes, made once and readable by its owner only.

    An empty file is what a power cut leaves; it is made again. A secret is never overwritten.
    """
    if os.path.exists(path) and os.path.getsize(path) == 0:
        os.remove(path)
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        with open(path, encoding="ascii") as file:
            return file.read().strip()
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        file.write(os.urandom(size).hex())  # the secrets module is newer than Python 3.5
        file.flush()
        os.fsync(file.fileno())
    return make_secret(path, size)


def check_port(host: str, port: int) -> None:
    """Raise Trouble when nothing can listen there."""
    if not 0 <= port <= 65535:
        raise environment.Trouble(
            "There is no port {}: choose one from 1024 to 65535 with --port".format(port)
        )
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        with socket.socket(family, kind, protocol) as probe:
            if not environment.ON_WINDOWS:
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
    except OSError as error:
        if error.errno in (errno.EADDRINUSE, errno.EACCES):
            why = "busy" if error.errno == errno.EADDRINUSE else "for the system only"
            other = port + 1 if 1024 <= port < 65535 else 8000
            raise environment.Trouble(
                "Port {} is {}: choose another, for example: python3 -m shop serve --port {}".format(
                    port, why, other
                )
            )
        raise environment.Trouble(
            "This machine has no address {} ({}): leave --host out for this machine alone, or use "
            "--host 0.0.0.0 to let phones in".format(host, error.strerror)
        )


def own_addresses(host: str) -> list:
    """Return the names and addresses that lead to this server, the one to print first."""
    found = [host]
    if host in ("0.0.0.0", "::"):
        found = network_address() + [socket.gethostname(), socket.gethostname() + ".local"]
    found = ["[{}]".format(name) if ":" in name else name for name in found]
    return found + ["localhost", "127.0.0.1", "[::1]"]


def network_address() -> list:
    """Return this machine's address in the workshop's network, nothing when it has none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Connecting a datagram socket sends nothing; it only picks the address that would be used.
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return []
        return [probe.getsockname()[0]]


def serve(options: argparse.Namespace, arguments: list) -> int:
    """Set up what is missing and serve until Ctrl-C; return the exit code."""
    data = open_data_folder(options.data)
    refusal = (
        "Another Evening Pour serves the data folder {} already: use that one, stop it first, or "
        "choose another folder with --data DIR".format(data)
    )
    with environment.locked(os.path.join(data, "serving.lock"), refusal):
        check_port(options.host, options.port)
    environment.enter_venv(environment.RUNTIME, ["-m", "shop"] + arguments)
    with environment.locked(os.path.join(data, "serving.lock"), refusal):
        os.umask(0o077)  # photos and exports are the shop's own business
        os.environ["EVENING_POUR_DEBUG"] = "0"
        addresses = own_addresses(options.host)
        os.environ.setdefault("ALLOWED_HOSTS", ",".join(addresses))
        page = prepare_shop(data, options.demo)
        run_server(options.host, options.port, addresses[0], page)
    return 0


def prepare_shop(data: str, demo: bool) -> str:
    """Bring database and static files up to date; return the path of the page to open first."""
    import django
    from django.core.management import call_command
    from django.db import DatabaseError, connection

    from shop import backups

    django.setup()
    try:
        connection.ensure_connection()
    except DatabaseError as error:
        raise environment.Trouble(
            "The database cannot be opened ({}): see to DATABASE_URL, or put a backup in the place of "
            "db.sqlite3 in {}".format(" ".join(str(error).split()), data)
        )
    backups.before_migrating(data)
    call_command("migrate", interactive=False, verbosity=0)
    collect_static_files(data)
    if demo:
        fill_demo()
    return first_page(data)


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


def run_server(host: str, port: int, address: str, page: str) -> None:
    """Serve until Ctrl-C or a request to end; raise Trouble when the port was taken meanwhile."""
    from cheroot.wsgi import Server

    from shop.wsgi import application

    # The handler only takes a note: an exception out of nowhere could leave worker threads behind.
    asked = []
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda number, frame: asked.append(number))
    server = Server((host, port), application, numthreads=8)
    server.error_log = log_server_error
    try:
        server.prepare()
    except OSError as error:
        raise environment.Trouble("Cannot listen on port {}: {}".format(port, error))
    serving = threading.Thread(target=server.serve)
    serving.start()
    link = "http://{}:{}{}".format(address, server.bind_addr[1], page)
    if page != "/":
        environment.say("Nobody is set up yet. Open this link to begin: " + link)
    else:
        environment.say("Evening Pour is open at " + link)
    environment.say("Stop with Ctrl-C.")
    while serving.is_alive() and not asked:
        serving.join(0.2)
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.default_int_handler)
    environment.say("\nStopping.")
    server.stop()


def log_server_error(message: str = "", level: int = 20, traceback: bool = False) -> None:
    """Print what the server reports, but not its notice of an ordinary stop."""
    if level > 20 or traceback:
        print(message, file=sys.stderr, flush=True)


def run_tests(arguments: list) -> int:
    """Run the test suite with pytest, on SQLite unless DATABASE_URL says otherwise."""
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
    serving.add_argument("--host", default="127.0.0.1", help="0.0.0.0 lets phones in (%(default)s)")
    serving.add_argument("--port", type=int, default=8000, help="(%(default)s)")
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
