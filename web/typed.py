"""Numbers as people type them."""

from typing import Annotated

from pydantic import BeforeValidator


def pointed(text: object) -> object:
    """A decimal comma is understood as a point."""
    return text.strip().replace(",", ".") if isinstance(text, str) else text


Decimal = Annotated[float, BeforeValidator(pointed)]
