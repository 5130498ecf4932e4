"""What the tests of the Python package share."""

from __future__ import annotations

import csv
import os
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"
VECTORS = ROOT / "tests" / "vectors"

Columns = dict[str, npt.NDArray[np.float64]]

# An invented station and flight.
SHEET: dict[str, Any] = {
    "station": {
        "kind": "land",
        "wmo_block": 99,
        "wmo_number": 11,
        "latitude_deg": 51.25,
        "longitude_deg": -3.4,
        "elevation_m": 84.0,
    },
    "flight": {"release": "2031-01-15T11:23:40Z", "standard_time": "2031-01-15T12:00:00Z"},
    "clouds": {"nh": 0},
    "equipment": {"radiosonde": 90, "radiation": 4, "tracking": 8},
}


def read_columns(name: str) -> Columns:
    """A sample as a dict of arrays; an empty cell is NaN."""
    lines = [line for line in (SAMPLES / name).read_text().splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    return {
        column: np.array([float(row[column]) if row[column] else np.nan for row in rows])
        for column in rows[0]
    }


@pytest.fixture(scope="session")
def columns() -> Columns:
    return read_columns("winter_jet.csv")


@pytest.fixture(scope="session")
def sheet() -> Path:
    return SAMPLES / "winter_jet.toml"


@pytest.fixture(autouse=True)
def _in_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def seconds(name: str, default: float) -> float:
    """A time from the environment."""
    return float(os.environ.get(name, default))
