"""Where the shop listens, and what is said about a certificate before anything is served."""

import shutil
import socket
import ssl
import subprocess
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import time_machine
import zxingcpp

from shop import environment, listening, serving, terminal_qr

needs_openssl = pytest.mark.skipif(
    not shutil.which("openssl"), reason="openssl makes the test's certificate"
)
EC = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]


def make_pair(folder, name, *more):
    """A certificate for 30 days and its key, made by openssl."""
    certificate, key = folder / f"{name}.pem", folder / f"{name}.key"
    command = ["openssl", "req", "-x509", *EC, "-days", "30", "-subj", f"/CN={name}", *more]
    subprocess.run([*command, "-keyout", key, "-out", certificate], check=True, capture_output=True)
    return str(certificate), str(key)


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    names = "subjectAltName=DNS:bench.example,DNS:*.shed.example,IP:127.0.0.1"
    return make_pair(tmp_path_factory.mktemp("tls"), "bench.example", "-addext", names)


def told(*arguments):
    """The one line with which a certificate was refused."""
    with pytest.raises(environment.Trouble) as refused:
        listening.check_certificate(*arguments)
    line = str(refused.value)
    assert "\n" not in line
    return line


@needs_openssl
def test_a_certificate_with_its_key_opens_the_shop_to_its_names(pair):
    place = listening.find_place("127.0.0.1", 0, False, *pair)
    assert (place.scheme, place.addresses[0], place.notes) == ("https", "127.0.0.1", [])
    assert {"bench.example", ".shed.example"} <= set(place.addresses)


@pytest.mark.parametrize("given", [("cert.pem", ""), ("", "key.pem")])
def test_certificate_and_key_are_needed_together(given):
    assert "belong together: name both" in told(*given)


@needs_openssl
def test_a_file_that_cannot_be_read_is_named_with_its_option(pair, tmp_path):
    certificate, key = pair
    missing = str(tmp_path / "gone.pem")
    assert told(missing, key).startswith(f"Cannot read {missing} (No such file or directory)")
    assert "after --tls-key" in told(certificate, missing)
    assert "Is a directory" in told(certificate, str(tmp_path))


@needs_openssl
def test_swapped_and_damaged_files_are_told_apart(pair, tmp_path):
    certificate, key = pair
    assert "holds no certificate in PEM form" in told(key, certificate)
    assert "holds no private key in PEM form" in told(certificate, certificate)
    damaged = tmp_path / "damaged.pem"
    damaged.write_text("-----BEGIN CERTIFICATE-----\nMIIB\n-----END CERTIFICATE-----\n")
    assert "make or get the pair anew" in told(str(damaged), key)


@needs_openssl
def test_a_key_of_another_certificate_is_refused(pair, tmp_path):
    _, other = make_pair(tmp_path, "other.example")
    assert "does not belong to the certificate" in told(pair[0], other)


@needs_openssl
def test_a_locked_key_is_refused_with_the_command_that_unlocks_it(pair, tmp_path):
    locked = str(tmp_path / "locked.key")
    command = [
        "openssl",
        "pkey",
        "-in",
        pair[1],
        "-aes256",
        "-passout",
        "pass:heron",
        "-out",
        locked,
    ]
    subprocess.run(command, check=True, capture_output=True)
    assert f"openssl pkey -in {locked} -out" in told(pair[0], locked)


@needs_openssl
def test_a_certificate_out_of_its_time_is_refused_and_a_last_fortnight_is_said(pair):
    now = datetime.now(UTC)
    with time_machine.travel(now + timedelta(days=31)):
        assert "renew it, then start again" in told(*pair)
    with time_machine.travel(now - timedelta(days=1)):
        assert "see to this machine's clock" in told(*pair)
    with time_machine.travel(now + timedelta(days=20)):
        (note,) = listening.find_place("127.0.0.1", 0, False, *pair).notes
    assert "renew it soon" in note


@needs_openssl
def test_a_certificate_for_other_names_is_said_with_the_names(pair, tmp_path):
    facts = listening.check_certificate(*pair)
    assert listening.notes_on_certificate(facts, *pair, "bench.example") == []
    assert listening.notes_on_certificate(facts, *pair, "left.shed.example") == []
    (note,) = listening.notes_on_certificate(facts, *pair, "198.51.100.9")
    assert "for bench.example, *.shed.example, 127.0.0.1, so browsers warn at 198.51.100.9" in note
    nameless = make_pair(tmp_path, "nameless")
    (note,) = listening.notes_on_certificate(
        listening.check_certificate(*nameless), *nameless, "127.0.0.1"
    )
    assert "for no name at all" in note


@needs_openssl
def test_a_certificate_that_is_not_for_servers_is_refused(tmp_path):
    pair = make_pair(tmp_path, "reader", "-addext", "extendedKeyUsage=clientAuth")
    assert "cannot be used" in told(*pair)


def test_on_the_local_network_plain_http_is_called_readable():
    place = listening.find_place("0.0.0.0", 0, False, "", "")
    assert place.scheme == "http"
    assert "can read what is sent" in place.notes[0]
    assert listening.find_place("127.0.0.1", 0, False, "", "").notes == []


@pytest.mark.parametrize(
    ("address", "reason"),
    [
        ("", "no network"),
        ("127.0.0.1", "no network"),
        # Public name servers' well-known addresses stand in for any address of the open internet.
        ("8.8.8.8", "open to the whole internet"),
    ],
)
def test_only_a_local_network_will_do_for_lan(address, reason):
    with pytest.raises(environment.Trouble, match=reason):
        listening.check_network(address)


# Private, link-local and shared addresses: RFC 1918, RFC 3927, RFC 6598.
@pytest.mark.parametrize("address", ["10.1.2.3", "192.168.178.20", "169.254.3.4", "100.64.0.9"])
def test_an_address_of_a_local_network_will_do(address):
    listening.check_network(address)


def test_finding_the_address_sends_nothing(monkeypatch):
    def refuse(*_arguments):
        raise AssertionError("this would send a packet")

    for name in ("getaddrinfo", "gethostbyname", "gethostbyname_ex", "create_connection"):
        monkeypatch.setattr(socket, name, refuse)
    listening.own_addresses("0.0.0.0")


def test_a_macs_name_is_not_given_its_ending_twice(monkeypatch):
    monkeypatch.setattr(socket, "gethostname", lambda: "shed.local")
    addresses = listening.own_addresses("0.0.0.0")
    assert "shed.local" in addresses and "shed.local.local" not in addresses


def test_a_name_that_no_address_can_have_is_refused():
    with pytest.raises(environment.Trouble, match="no address"):
        listening.check_port("a" * 64 + ".example", 8000)
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        with pytest.raises(environment.Trouble, match=f"Port {port} is busy"):
            listening.check_port("127.0.0.1", port)


@pytest.mark.parametrize("colors", [True, False])
def test_a_phone_reads_the_link_from_the_terminal(colors):
    link = "http://192.168.178.20:8000/welcome/?code=0123456789abcdef01234567"
    drawn = terminal_qr.draw(link, 80, "utf-8", colors=colors)
    # What is seen: each character is an upper and a lower half, light where it is filled.
    halves = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0)}
    lines = [
        line.removeprefix(terminal_qr.ON).removesuffix(terminal_qr.OFF)
        for line in drawn.splitlines()
    ]
    rows = [[halves[mark][half] for mark in line] for line in lines for half in (0, 1)]
    picture = np.kron(np.array(rows, dtype=np.uint8), np.ones((6, 6), dtype=np.uint8))
    assert [found.text for found in zxingcpp.read_barcodes(picture)] == [link]


def test_a_terminal_that_cannot_show_the_code_gets_the_address_alone(capsys):
    link = "http://192.168.178.20:8000/"
    assert terminal_qr.draw(link, 20, "utf-8", colors=True) == ""  # too narrow
    assert terminal_qr.draw(link, 80, "ascii", colors=True) == ""
    assert terminal_qr.draw(link, 80, "cp1252", colors=False) == ""
    assert terminal_qr.draw(link, 80, "cp437", colors=False)  # has half blocks
    assert terminal_qr.for_this_terminal(link) == ""  # a pipe


@needs_openssl
def test_tls_starts_with_version_1_2(pair):
    # RFC 8996 puts 1.0 and 1.1 out of use.
    assert serving.Adapter(*pair).context.minimum_version >= ssl.TLSVersion.TLSv1_2
