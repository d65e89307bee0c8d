"""TLS whose handshake is made where the request is read, not where connections are accepted."""

from __future__ import annotations

import socket
from typing import Any

from cheroot.ssl.builtin import BuiltinSSLAdapter


class PatientTLS(BuiltinSSLAdapter):
    """Whoever connects and says nothing keeps one worker waiting, and not everybody else."""

    def wrap(self, sock: socket.socket) -> tuple[Any, dict[str, str]]:
        """The encrypted socket, its handshake still to come, and what a request says of it."""
        encrypted = self.context.wrap_socket(sock, do_handshake_on_connect=False, server_side=True)
        return encrypted, {"wsgi.url_scheme": "https", "HTTPS": "on"}
