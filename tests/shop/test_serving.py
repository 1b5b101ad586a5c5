"""The shop over TLS on the local network, as a phone meets it."""

import http.client
import os
import pty
import re
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time

import pytest

from shop import environment, listening, serving
from tests.shop.test_listening import make_pair, needs_openssl
from tests.shop.test_main import clean_environment, needs_posix


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    names = f"subjectAltName=DNS:bench.example,IP:{listening.network_address() or '127.0.0.1'}"
    return make_pair(tmp_path_factory.mktemp("tls"), "bench.example", "-addext", names)


@pytest.fixture(scope="module")
def tls_server(pair):
    """The server with a page that says how it was reached; yields its port."""

    def page(environ, start_response):
        start_response("200 OK", [("Content-Type", "text/plain")])
        return [environ["wsgi.url_scheme"].encode()]

    place = listening.Place("127.0.0.1", 0, "https", ["127.0.0.1"], *pair, [])
    server = serving.make_server(place, page)
    server.prepare()
    thread = threading.Thread(target=server.serve)
    thread.start()
    yield server.bind_addr[1]
    server.stop()
    thread.join()


def trusting(certificate):
    """What a phone that knows the certificate's signer would use."""
    return ssl.create_default_context(cafile=certificate)


def read(port, certificate, name="bench.example"):
    with (
        socket.create_connection(("127.0.0.1", port), timeout=20) as raw,
        trusting(certificate).wrap_socket(raw, server_hostname=name) as safe,
    ):
        safe.sendall(b"GET / HTTP/1.1\r\nHost: bench.example\r\nConnection: close\r\n\r\n")
        answer = http.client.HTTPResponse(safe)
        answer.begin()
        return answer.read()


@needs_openssl
def test_a_page_comes_over_tls(tls_server, pair):
    assert read(tls_server, pair[0]) == b"https"


@needs_openssl
def test_one_silent_visitor_holds_nobody_up(tls_server, pair):
    with socket.create_connection(("127.0.0.1", tls_server)):
        begun = time.monotonic()
        assert read(tls_server, pair[0]) == b"https"
        # The server gives a silent visitor ten seconds; nobody else may have to wait for that.
        assert time.monotonic() - begun < 9


@needs_openssl
def test_who_forgets_the_s_of_https_is_told_so(tls_server, pair):
    plain = http.client.HTTPConnection("127.0.0.1", tls_server, timeout=20)
    plain.request("GET", "/", headers={"Cookie": "x" * 5000})
    answer = plain.getresponse()
    assert answer.status == 400
    assert "put https:// in front" in answer.read().decode()
    plain.close()


@needs_openssl
def test_a_visitor_who_does_not_trust_the_certificate_leaves_no_mess(tls_server, pair, capfd):
    with (
        socket.create_connection(("127.0.0.1", tls_server), timeout=20) as raw,
        pytest.raises(ssl.SSLCertVerificationError),
    ):
        ssl.create_default_context().wrap_socket(raw, server_hostname="bench.example")
    assert read(tls_server, pair[0]) == b"https"
    assert capfd.readouterr() == ("", "")


@pytest.fixture
def on_a_terminal(tmp_path):
    """on_a_terminal(*options): start the shop on a terminal; return the process and what it showed."""
    started = []

    def start(*options):
        ours, theirs = pty.openpty()
        process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "shop",
                "serve",
                "--port",
                "0",
                "--data",
                str(tmp_path),
                *options,
            ],
            cwd=environment.ROOT,
            env=clean_environment(TERM="xterm", COLUMNS="120", LINES="60", PYTHONUTF8="1"),
            stdout=theirs,
            stderr=theirs,
        )
        os.close(theirs)
        limit = threading.Timer(240, process.kill)
        limit.start()
        started.append((process, ours, limit))
        said = b""
        while b"Stop with" not in said:
            said += os.read(ours, 65536)
        return process, said.decode()

    yield start
    for process, ours, limit in started:
        limit.cancel()
        process.kill()
        process.wait()
        os.close(ours)


@needs_posix
@needs_openssl
@pytest.mark.skipif(not listening.network_address(), reason="this machine is in no network")
def test_a_phone_opens_the_shop_over_tls_with_one_picture(on_a_terminal, pair):
    process, said = on_a_terminal("--lan", "--tls-cert", pair[0], "--tls-key", pair[1])
    address = listening.network_address()
    link = re.search(rf"https://{re.escape(address)}:(\d+)/welcome/\?code=\w+", said)
    assert "▀" in said and "Point a phone's camera" in said
    assert "can read what is sent" not in said
    phone = http.client.HTTPSConnection(
        address, int(link[1]), context=trusting(pair[0]), timeout=60
    )
    phone.request("GET", link[0].split(link[1], 1)[1])
    answer = phone.getresponse()
    page = answer.read().decode()
    assert answer.status == 200
    assert answer.headers["Strict-Transport-Security"].startswith("max-age=31536000")
    cookie = answer.headers["Set-Cookie"]
    assert "csrftoken=" in cookie and "Secure" in cookie
    # A form from there passes the check against forged ones; 422: it was read, and is not complete.
    token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)[1]
    code = link[0].rsplit("=", 1)[1]
    phone.request(
        "POST",
        "/welcome/",
        f"csrfmiddlewaretoken={token}&code={code}&start=own",
        {
            "Content-Type": "application/x-www-form-urlencoded",
            "Cookie": cookie.split(";")[0],
            "Origin": f"https://{address}:{link[1]}",
            "Referer": link[0],
        },
    )
    answer = phone.getresponse()
    answer.read()
    assert answer.status == 422
    phone.close()
    process.send_signal(signal.SIGINT)
    assert process.wait(timeout=60) == 0


def test_what_goes_wrong_inside_the_server_is_printed_in_full_and_a_stop_is_not(capsys):
    serving.log_error("stopped", level=20)
    assert capsys.readouterr().err == ""
    try:
        raise OSError("the cup ran over")
    except OSError:
        serving.log_error("OSError", level=40, traceback=True)
    assert "Traceback" in (told := capsys.readouterr().err) and "the cup ran over" in told
