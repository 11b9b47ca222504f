"""Invented thermometer records, and short ways to look at temperatures, for several tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from antgrowth.climate.temperature import Temperature, read_temperature
from antgrowth.errors import TemperatureError


def record(start: str, hours: int, every: str = "1h", celsius: object = 24.0) -> pd.DataFrame:
    times = pd.date_range(start, pd.Timestamp(start) + pd.Timedelta(hours=hours - 1), freq=every)
    return pd.DataFrame({"time": times, "temperature_c": celsius})


def days_of(first: str, last: str, celsius: float = 24.0) -> Temperature:
    """Whole days of hourly readings, both ends included."""
    hours = (pd.Timestamp(last) - pd.Timestamp(first)) // pd.Timedelta("1h") + 24
    return read_temperature(record(first, hours, celsius=celsius))


def csv(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    path = folder / "logger.csv"
    path.write_bytes(text.encode(encoding))
    return path


def message(call: Callable[[], object], kind: type[Exception] = TemperatureError) -> str:
    with pytest.raises(kind) as caught:
        call()
    return str(caught.value)


def iso(span: tuple[pd.Timestamp | None, pd.Timestamp | None]) -> list[str | None]:
    return [None if day is None else f"{day:%Y-%m-%d}" for day in span]
