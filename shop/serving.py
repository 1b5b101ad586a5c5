"""The web server: cheroot, with or without TLS, saying no more than it must."""

import socket
import ssl
import sys
from collections.abc import Callable
from traceback import format_exc

from cheroot.errors import FatalSSLAlert
from cheroot.server import HTTPConnection
from cheroot.ssl.builtin import BuiltinSSLAdapter
from cheroot.wsgi import Server

from shop import listening

WRONG_SCHEME = "This shop speaks HTTPS only: put https:// in front of the address.\n"


class Adapter(BuiltinSSLAdapter):
    """Wraps a connection but leaves the handshake to the worker that serves it.

    While accepting, one visitor who connects and stays silent would hold up all the others
    (https://github.com/cherrypy/cheroot/issues/748).
    """

    def wrap(self, sock: socket.socket) -> tuple[ssl.SSLSocket, dict[str, str]]:
        try:
            wrapped = self.context.wrap_socket(
                sock, server_side=True, do_handshake_on_connect=False
            )
        except OSError as error:  # gone again already
            raise FatalSSLAlert(*error.args) from error
        return wrapped, {"wsgi.url_scheme": "https", "HTTPS": "on"}


class TlsConnection(HTTPConnection):
    met = False

    def communicate(self) -> bool:
        """Shake hands first; answer whoever forgot the s of https in a way a person can read."""
        if not self.met:
            try:
                self.socket.do_handshake()
            except ssl.SSLError as error:
                if error.reason == "HTTP_REQUEST":
                    self.answer_plainly()
                return False
            except OSError:
                return False
            self.met = True
        return super().communicate()

    def answer_plainly(self) -> None:
        answer = (
            "HTTP/1.1 400 Bad Request\r\nConnection: close\r\n"
            f"Content-Type: text/plain\r\nContent-Length: {len(WRONG_SCHEME)}\r\n\r\n{WRONG_SCHEME}"
        )
        try:
            # Past the TLS layer. What waits unread would make the system reset the connection.
            socket.socket.recv(self.socket, 65536)
            socket.socket.sendall(self.socket, answer.encode("ascii"))
        except OSError:
            pass


def make_server(place: listening.Place, application: Callable) -> Server:
    """Return the server for a place, not yet listening."""
    server = Server((place.host, place.port), application, numthreads=8)
    server.error_log = log_error
    # What a page leaves unread is read to its end, in one piece: this bounds the memory it takes.
    server.max_request_body_size = 100_000_000
    if place.certificate:
        server.ssl_adapter = Adapter(place.certificate, place.key)
        server.ConnectionClass = TlsConnection
    return server


def log_error(message: str = "", level: int = 20, traceback: bool = False) -> None:
    """Print what the server reports, but not its notice of an ordinary stop."""
    if level > 20 or traceback:
        print(format_exc() if traceback else message, file=sys.stderr, flush=True)
