"""What makes the pages installable: the manifest, and the worker that keeps the shell and nothing else.

The worker keeps files of /static and one sheet that says that nothing is heard. No page and no data is ever
kept: an old number shown as a new one would be worse than none.
"""

import hashlib
import json
from functools import lru_cache
from pathlib import Path

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from monitor.records import Reason
from monitor.words.say import say
from monitor.words.units import Dress
from web.choices import dress_for
from web.render import GROUNDS, environment, static
from web.watch import Watch

STATIC = Path(__file__).parent / "static"
KEPT = (
    "palette.css", "page.css", "alerts.css", "hold.css", "rights.css", "mark.svg", "live.js", "folds.js",
    "sound.js", "hold.js", "vendor/htmx.min.js", "vendor/htmx-ext-sse.min.js",
)  # fmt: skip
ICONS = ((192, "any"), (512, "any"), (512, "maskable"))
FRESH = {"Cache-Control": "no-cache", "Vary": "Cookie, Accept-Language"}


def shell_pages(app: FastAPI, watch: Watch) -> None:
    @app.get("/manifest.webmanifest")
    def manifest(request: Request) -> Response:
        """As the W3C's Web Application Manifest has it."""
        boat, dress = watch.settings.boat.name, dress_for(watch.settings, request)
        told = {
            "id": "/",
            "name": f"{boat}: Ebbwatch",
            "short_name": boat,
            "description": say(Reason("shell: description", {"boat": boat}), dress),
            "lang": dress.language,
            "start_url": "/",
            "scope": "/",
            "display": "standalone",
            "background_color": GROUNDS["dim"],
            "theme_color": GROUNDS["dim"],
            "icons": [
                {
                    "src": static(f"icons/{purpose}-{size}.png"),
                    "sizes": f"{size}x{size}",
                    "type": "image/png",
                    "purpose": purpose,
                }
                for size, purpose in ICONS
            ],
        }
        return Response(json.dumps(told), media_type="application/manifest+json", headers=FRESH)

    @app.get("/worker.js")
    def worker(request: Request) -> Response:
        language = dress_for(watch.settings, request).language
        return Response(_worker(language), media_type="text/javascript", headers=FRESH)


@lru_cache
def _worker(language: str) -> str:
    """With the addresses of what it keeps, and a name of its store that changes with them."""
    dress = Dress(language=language)
    sheet = environment(language).get_template("unheard.html").render(
        language=language,
        title=say(Reason("shell: unheard"), dress),
        more=say(Reason("shell: unheard, more"), dress),
        again=say(Reason("shell: again"), dress),
    )  # fmt: skip
    kept = [static(name) for name in KEPT]
    script = (STATIC / "worker.js").read_text()
    name = hashlib.sha256((script + sheet + "".join(kept)).encode()).hexdigest()[:10]
    told = f"const STORE = {json.dumps('shell-' + name)};\nconst KEPT = {json.dumps(kept)};\n"
    return f"{told}const UNHEARD = {json.dumps(sheet)};\n{script}"
