"""Where the shop listens, which addresses lead to it, and whether its certificate will do.

Kept to the standard library and the syntax of Python 3.5, like the start-up that uses it. Nothing
here sends a packet to any other host.
"""

import collections
import contextlib
import errno
import ipaddress
import socket
import ssl
import time

from shop import environment

EVERYWHERE = ("0.0.0.0", "::")
#: A certificate that ends sooner is worth a word at every start.
SOON = 14 * 24 * 60 * 60  # seconds
#: OpenSSL's X509_V_FLAG_NO_CHECK_TIME (include/openssl/x509_vfy.h), which Python gives no name.
NO_CHECK_TIME = 0x200000

#: host, port: where to listen. addresses: what may stand in a link, the one to print first.
#: certificate, key: paths of PEM files, empty for plain HTTP. notes: what to say once it is open.
Place = collections.namedtuple("Place", "host port scheme addresses certificate key notes")


def find_place(host: str, port: int, lan: bool, certificate: str, key: str) -> Place:
    """Return where to listen; raise Trouble when the port, the network or the certificate won't do."""
    if lan:
        host = EVERYWHERE[0]
        check_network(network_address())
    facts, notes = {}, []
    if certificate or key:
        facts = check_certificate(certificate, key)
    check_port(host, port)
    addresses = own_addresses(host)
    if facts:
        notes += notes_on_certificate(facts, certificate, key, addresses[0])
        addresses += certified_names(facts)
    elif not is_loopback(host):
        notes.append(
            "Without TLS anybody on this network can read what is sent, passwords too: use it only "
            "among people you trust, or add --tls-cert and --tls-key."
        )
    scheme = "https" if facts else "http"
    return Place(host, port, scheme, addresses, certificate, key, notes)


def is_loopback(host: str) -> bool:
    """Say whether only this machine itself gets to this address."""
    return host in ("localhost", "::1") or host.startswith("127.")


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
    except (OSError, UnicodeError) as error:
        code = getattr(error, "errno", None)
        if code in (errno.EADDRINUSE, errno.EACCES):
            why = "busy" if code == errno.EADDRINUSE else "for the system only"
            other = port + 1 if 1024 <= port < 65535 else 8000
            raise environment.Trouble(
                "Port {} is {}: choose another, for example: python3 -m shop serve --port {}".format(
                    port, why, other
                )
            )
        raise environment.Trouble(
            "This machine has no address {} ({}): leave --host out for this machine alone, or use "
            "--lan to let phones in".format(host, getattr(error, "strerror", None) or error)
        )


def own_addresses(host: str) -> list:
    """Return the names and addresses that lead to this server, the one to print first."""
    found = [host]
    if host in EVERYWHERE:
        name = socket.gethostname()
        found = [network_address(), name, name if name.endswith(".local") else name + ".local"]
    found = ["[{}]".format(name) if ":" in name else name for name in found if name]
    return found + ["localhost", "127.0.0.1", "[::1]"]


def network_address() -> str:
    """Return this machine's address in the workshop's network, empty when it has none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Connecting a datagram socket sends nothing; it only picks the address that would be used.
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return ""
        return probe.getsockname()[0]


def check_network(address: str) -> None:
    """Raise Trouble when this is no address of a local network."""
    if not address or is_loopback(address):
        raise environment.Trouble(
            "This machine is in no network that --lan could use: join the workshop's network and start "
            "again, or name its address with --host ADDRESS"
        )
    if ipaddress.ip_address(address).is_global:
        raise environment.Trouble(
            "--lan is for a local network, and the address {0} is open to the whole internet: leave "
            "--lan out, or, if you mean it, use --host {0} with --tls-cert and --tls-key".format(
                address
            )
        )


def check_certificate(certificate: str, key: str) -> dict:
    """Return what the certificate says (as ssl.SSLSocket.getpeercert does); raise Trouble if unusable.

    certificate and key are paths of PEM files; the first may hold the whole chain, its own one first.
    """
    if not certificate or not key:
        raise environment.Trouble(
            "--tls-cert and --tls-key belong together: name both files, or leave both out for plain HTTP"
        )
    read_pem(certificate, "--tls-cert", "CERTIFICATE", "a certificate")
    if "ENCRYPTED" in read_pem(key, "--tls-key", "PRIVATE KEY", "a private key"):
        raise environment.Trouble(
            "The key {0} is locked with a password, which a server cannot type: unlock it with "
            "openssl pkey -in {0} -out unlocked.pem and use that file".format(key)
        )
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        server.load_cert_chain(certificate, key, password=b"")
        facts = shake_hands(server, certificate)
    except ssl.SSLError as error:
        if "MISMATCH" in str(error.reason):
            raise environment.Trouble(
                "The key {} does not belong to the certificate {}: use the pair that was made "
                "together".format(key, certificate)
            )
        raise environment.Trouble(
            "The certificate {} or its key {} cannot be used ({}): make or get the pair anew".format(
                certificate, key, error.reason or error
            )
        )
    check_dates(facts, certificate)
    return facts


def read_pem(path: str, option: str, mark: str, what: str) -> str:
    """Return a PEM file's text; raise Trouble when it cannot be read or does not hold what it should."""
    try:
        with open(path, encoding="utf-8", errors="replace") as file:
            text = file.read()
    except OSError as error:
        raise environment.Trouble(
            "Cannot read {} ({}): see to the path after {} and the file's rights".format(
                path, error.strerror, option
            )
        )
    begins = [line for line in text.splitlines() if line.startswith("-----BEGIN ")]
    if not any(line.rstrip("- \r").endswith(mark) for line in begins):
        raise environment.Trouble(
            "{} holds no {} in PEM form (text with a line -----BEGIN {}-----): name another file after "
            "{}".format(path, what.split(" ", 1)[1], mark, option)
        )
    return text


def shake_hands(server: ssl.SSLContext, certificate: str, name: str = "") -> dict:
    """Let a visitor in memory look at the certificate, whatever its dates, and return what it saw.

    The visitor trusts this very certificate, whoever signed it. Raises ssl.SSLError when a browser
    could not accept it for a web server, or not for that name.
    """
    visitor = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    visitor.load_verify_locations(cafile=certificate)
    visitor.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN | NO_CHECK_TIME
    visitor.check_hostname = bool(name)
    there, back = ssl.MemoryBIO(), ssl.MemoryBIO()
    ends = [
        visitor.wrap_bio(back, there, server_hostname=name or None),
        server.wrap_bio(there, back, server_side=True),
    ]
    for end in ends * 3:  # TLS takes one and a half round trips
        with contextlib.suppress(ssl.SSLWantReadError):
            end.do_handshake()
    return ends[0].getpeercert()


def check_dates(facts: dict, certificate: str) -> None:
    """Raise Trouble when the certificate has ended or not begun."""
    if ssl.cert_time_to_seconds(facts["notAfter"]) < time.time():
        raise environment.Trouble(
            "The certificate {} ended on {}: renew it, then start again".format(
                certificate, facts["notAfter"]
            )
        )
    if ssl.cert_time_to_seconds(facts["notBefore"]) > time.time():
        raise environment.Trouble(
            "The certificate {} begins only on {}: see to this machine's clock, or renew it".format(
                certificate, facts["notBefore"]
            )
        )


def notes_on_certificate(facts: dict, certificate: str, key: str, address: str) -> list:
    """Return what its owner should know: that it ends soon, or is for other names than the address."""
    notes = []
    left = ssl.cert_time_to_seconds(facts["notAfter"]) - time.time()
    if left < SOON:
        notes.append("The certificate ends on {}: renew it soon.".format(facts["notAfter"]))
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(certificate, key, password=b"")
    try:
        shake_hands(server, certificate, address.strip("[]"))
    except ssl.SSLCertVerificationError:
        names = ", ".join(name for _, name in facts.get("subjectAltName", ())) or "no name at all"
        notes.append("The certificate is for {}, so browsers warn at {}.".format(names, address))
    return notes


def certified_names(facts: dict) -> list:
    """Return the certificate's names as Django's ALLOWED_HOSTS writes them."""
    names = [name for kind, name in facts.get("subjectAltName", ()) if kind == "DNS"]
    return [name[1:] if name.startswith("*.") else name for name in names]
