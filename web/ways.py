"""Addresses of our own: what may stand in a redirect or a link that came with a request."""

from urllib.parse import quote, urlsplit

LONGEST = 2000


def ours(path: str) -> str:
    """The path, where it is one of ours; "/" for everything that a browser might take elsewhere."""
    plain = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable()
    return path if plain and len(path) <= LONGEST else "/"


def from_here(address: str, host: str) -> str:
    """The path of a full address (Referer, HX-Current-URL) on this host; "/" for any other."""
    try:
        parts = urlsplit(address)
    except ValueError:
        return "/"
    if not address or parts.netloc != host:
        return "/"
    return ours(parts.path + (f"?{parts.query}" if parts.query else ""))


def sign_in(back: str) -> str:
    """The address of the sign-in page that leads back to `back`."""
    return f"/signin?next={quote(ours(back), safe='/')}"
