"""A small MQTT broker inside the process, on loopback, for the demonstration only.

It is amqtt (extra "demo"): quality 0 and clean sessions, no passwords. A boat runs a real broker.
"""

import asyncio
import socket
import threading

from monitor.errors import SourceError

_START_S = 10.0


class EmbeddedBroker:
    """Starts on `start`, listens on `port` of loopback until `stop`."""

    def __init__(self, port: int = 0) -> None:
        self.port = port or _free_port()
        self._loop = asyncio.new_event_loop()
        self._ready = threading.Event()
        self._failure: BaseException | None = None
        self._leave: asyncio.Event | None = None
        self._thread = threading.Thread(target=self._run, name="embedded broker", daemon=True)

    def start(self) -> int:
        """The port it listens on. Raises SourceError where it cannot start."""
        self._thread.start()
        self._ready.wait(_START_S)
        if self._failure is not None or not self._ready.is_set():
            raise SourceError(f"the demonstration's MQTT broker does not start: {self._failure}")
        return self.port

    def stop(self) -> None:
        if self._thread.is_alive() and self._leave is not None:
            self._loop.call_soon_threadsafe(self._leave.set)
            self._thread.join(5.0)

    def _run(self) -> None:
        try:
            self._loop.run_until_complete(self._serve())
        except Exception as error:  # Whatever it is, `start` tells it.
            self._failure = error
        finally:
            self._loop.close()
            self._ready.set()

    async def _serve(self) -> None:
        from amqtt.broker import Broker

        broker = Broker(
            {
                "listeners": {"default": {"type": "tcp", "bind": f"127.0.0.1:{self.port}"}},
                "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}},
            }
        )
        self._leave = asyncio.Event()
        await broker.start()
        self._ready.set()
        await self._leave.wait()
        await broker.shutdown()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
