"""Wrong passwords by the thousand, straight into the app: a test counts them, the bench times them."""

import asyncio
from collections import Counter
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from starlette.types import ASGIApp, Message

PORT = 8080


async def post(app: ASGIApp, address: str, password: str) -> int:
    """The status of the answer."""
    body = urlencode({"password": password, "next": "/"}).encode()
    headers = {
        "host": f"127.0.0.1:{PORT}", "origin": f"http://127.0.0.1:{PORT}", "accept": "text/html",
        "content-type": "application/x-www-form-urlencoded", "content-length": str(len(body)),
    }  # fmt: skip
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST", "scheme": "http",
        "path": "/signin", "raw_path": b"/signin", "query_string": b"", "root_path": "",
        "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
        "client": (address, 40_000), "server": ("127.0.0.1", PORT),
    }  # fmt: skip
    waiting: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]
    status: list[int] = []

    async def receive() -> Message:
        return waiting.pop() if waiting else {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        if message["type"] == "http.response.start":
            status.append(message["status"])

    await app(scope, receive, send)
    return status[0]


def flood(app: ASGIApp, posts: int, at_once: int, between: Callable[[], None]) -> Counter[int]:
    """Posts so many, so many of them at the same time, from three hundred addresses; how often each status
    came back. `between` is called before each."""
    counted: Counter[int] = Counter()

    async def one(n: int) -> None:
        between()
        counted[await post(app, f"192.168.{n % 3}.{n % 100}", f"guess {n}")] += 1

    async def all_of_them() -> None:
        for first in range(0, posts, at_once):
            await asyncio.gather(*(one(n) for n in range(first, first + at_once)))

    asyncio.run(all_of_them())
    return counted
