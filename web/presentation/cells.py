"""A bank's cells side by side: how far each stands from their mean."""

from dataclasses import dataclass

from monitor.settings import Bank
from monitor.words.units import GAP, Dress, fixed, known, temp
from web.presentation.figures import Reader, rests_href

LEAST_SCALE_MV = 20.0


@dataclass(frozen=True, slots=True)
class CellRow:
    """`away` is the drawn distance from the mean, -1 to 1."""

    name: str
    voltage: str
    href: str
    away: float
    away_told: str
    temperature: str
    temperature_href: str
    silent: bool


@dataclass(frozen=True, slots=True)
class Cells:
    rows: tuple[CellRow, ...]
    scale: str
    limits: str


def cells(reader: Reader, bank: Bank) -> Cells | None:
    """None where no cell of this bank is measured."""
    heard = []
    for n in range(1, 33):
        r = reader.reading(bank.name, f"cell {n} voltage")
        if r is not None and r.value is not None and known(r.value):
            heard.append((n, r.value, r.silent))
    if not heard:
        return None
    mean_V = sum(v for _, v, _ in heard) / len(heard)
    scale_mV = max(LEAST_SCALE_MV, *(1000 * abs(v - mean_V) for _, v, _ in heard))
    rows = []
    for n, v, silent in heard:
        away_mV = 1000 * (v - mean_V)
        warmth = reader.reading(bank.name, f"cell {n} temperature")
        told = "" if warmth is None or warmth.value is None else temp(warmth.value, reader.dress)
        rows.append(
            CellRow(
                reader.word("Cell {n:count}", n=n), fixed(v, 3, reader.dress) + GAP + "V",
                rests_href("reading", f"{bank.name} cell {n} voltage"), away_mV / scale_mV,
                _away(away_mV, reader.dress), told,
                rests_href("reading", f"{bank.name} cell {n} temperature") if told else "", silent,
            )
        )  # fmt: skip
    low_V, high_V = bank.cell_limits_V
    limits = reader.word(
        "The battery's own protection cuts at {low_V:volts} and {high_V:volts} a cell.",
        low_V=low_V,
        high_V=high_V,
    )
    return Cells(tuple(rows), fixed(scale_mV, 0, reader.dress) + GAP + "mV", limits)


def _away(away_mV: float, dress: Dress) -> str:
    told = fixed(away_mV, 0, dress) + GAP + "mV"
    return f"+{told}" if away_mV >= 0 else told
