"""Published messages, the same files as the tests in Rust read."""

from __future__ import annotations

import json
from typing import Any

import pytest
import tomllib

import fivefig
from conftest import VECTORS

MESSAGES = sorted(
    path
    for pattern in ("land_*.toml", "drop_*.toml", "pilot_*.toml")
    for path in VECTORS.glob(pattern)
)
# The international knot, exactly (SI Brochure, 8th edition, table 8).
KNOT_MS = 1852 / 3600
SIGNIFICANCE = {
    "surface": ("surface",),
    "standard": ("standard",),
    "tropopause": ("tropopause",),
    "max_wind": ("max_wind",),
    "significant": ("sig_temperature", "sig_humidity", "surface"),
    "significant_wind": ("sig_wind", "surface"),
}


def test_there_are_vectors() -> None:
    assert len(MESSAGES) >= 10


@pytest.mark.parametrize("path", MESSAGES, ids=lambda path: path.stem)
def test_every_level_is_in_the_table(path: Any) -> None:
    vector = tomllib.loads(path.read_text())
    table = fivefig.decode_table(vector["text"]).to_dict()
    rows = [dict(zip(table, values, strict=True)) for values in zip(*table.values(), strict=True)]
    units = {part["letters"][-1]: part["unit"] for part in vector["part"]}
    stations = {part["station"] for part in vector["part"] if "station" in part}
    if stations:
        assert {row["station"] for row in rows} == stations
    tried = 0
    for level in vector["decoded"]["levels"]:
        wanted = SIGNIFICANCE.get(level["section"])
        if wanted is None or "pressure_hpa" not in level:
            continue
        found = [
            row
            for row in rows
            if row["pressure_hpa"] == level["pressure_hpa"]
            and any(name in row["significance"] for name in wanted)
        ]
        assert found, level
        assert any(agrees(row, level, units) for row in found), (level, found)
        tried += 1
    assert tried or path.stem.startswith("pilot")


def agrees(row: dict[str, Any], level: dict[str, Any], units: dict[str, str]) -> bool:
    """Whether a row has every value that is published of a level."""
    unit = units.get(level["part"], "kt")
    factor = KNOT_MS if unit == "kt" else 1.0
    pairs = [
        (row["height_gpm"], level.get("height_gpm")),
        (row["temperature_c"], level.get("temperature_c")),
        (row["wind_dir_deg"], level.get("wind_dir_deg")),
    ]
    if "wind_speed" in level:
        pairs.append((row["wind_speed_ms"], level["wind_speed"] * factor))
    if "depression_k" in level:
        if row["dewpoint_c"] is None:
            return False
        pairs.append((row["temperature_c"] - row["dewpoint_c"], level["depression_k"]))
    return all(w is None or (r is not None and abs(r - w) < 1e-6) for r, w in pairs)


def test_bufr_of_another_writer() -> None:
    """Messages of the list of values of an independent writer; 0 10 004 and 0 07 004 are
    pressure in Pa, 0 12 101 and 0 12 001 temperature in K."""
    read = 0
    for path in sorted((VECTORS / "bufr").glob("*.json")):
        vector = json.loads(path.read_text())
        octets = bytes.fromhex("".join(vector["octets"]) if isinstance(vector["octets"], list) else vector["octets"])
        try:
            reports = fivefig.decode(octets)
        except fivefig.MessageError:
            continue
        read += len(reports)
    assert read > 0
