"""What every line to an MQTT broker needs: who we are, and TLS that leaves nothing open."""

import ssl
from typing import Any

import paho.mqtt.client as paho

from monitor.errors import SourceError
from monitor.settings import Broker, Tls

VERSIONS = {"3.1.1": paho.MQTTv311, "5": paho.MQTTv5}


class Context(ssl.SSLContext):
    """Remembers its connection: paho leaves one open whose handshake fails."""

    connection: ssl.SSLSocket | None = None

    def wrap_socket(self, *args: Any, **options: Any) -> ssl.SSLSocket:
        self.connection = super().wrap_socket(*args, **options)
        return self.connection

    def close(self) -> None:
        if self.connection is not None:
            self.connection.close()


def secured(tls: Tls | None) -> Context | None:
    """None where the line is in the clear. Raises SourceError where a file is missing."""
    if tls is None:
        return None
    for path in (tls.ca, tls.certificate, tls.key):
        if path is not None and not path.is_file():
            raise SourceError(f"{path}: no such file")
    context = Context(ssl.PROTOCOL_TLS_CLIENT)
    if tls.ca is None:
        context.load_default_certs()
    else:
        context.load_verify_locations(tls.ca)
    if tls.certificate is not None:
        context.load_cert_chain(tls.certificate, tls.key)
    return context


def introduce(client: paho.Client, broker: Broker, context: Context | None) -> None:
    """User, password and TLS. Raises SourceError where the password cannot be read."""
    if broker.username is not None:
        client.username_pw_set(broker.username, _password(broker))
    if context is not None:
        client.tls_set_context(context)


def _password(broker: Broker) -> str | None:
    path = broker.password_file
    if path is None:
        return broker.password
    try:
        return path.read_text("utf-8").strip("\r\n")
    except (OSError, UnicodeDecodeError) as error:
        why = " ".join(str(error).split())
        raise SourceError(f"{path}: the password cannot be read: {why}") from error
