"""One profile in every table that Python has gives one message."""

from __future__ import annotations

import io
import json
import warnings
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas as pd
import pint
import polars as pl
import pyarrow as pa
import pytest
import tomllib
import xarray as xr

import fivefig
from conftest import SAMPLES, Columns

# The units of the CF conventions for the same columns.
CF: dict[str, tuple[str, str, Any]] = {
    "time_s": ("elapsed", "s", lambda v: v),
    "pressure_hpa": ("air_pressure", "Pa", lambda v: v * 100.0),
    "height_gpm": ("geopotential_height", "m", lambda v: v),
    "temperature_c": ("air_temperature", "K", lambda v: v + 273.15),
    "humidity_pct": ("relative_humidity", "1", lambda v: v / 100.0),
    "wind_dir_deg": ("wind_from_direction", "degree", lambda v: v),
    "wind_speed_ms": ("wind_speed", "m s-1", lambda v: v),
    "latitude_deg": ("latitude", "degrees_north", lambda v: v),
    "longitude_deg": ("longitude", "degrees_east", lambda v: v),
}


def cf_dataset(columns: Columns) -> xr.Dataset:
    data = {}
    for ours, values in columns.items():
        name, unit, convert = CF[ours]
        attrs = {"units": unit}
        if name == "elapsed":
            name = "time_s"
        else:
            attrs["standard_name"] = name
        data[f"v_{name}" if name != "time_s" else name] = ("obs", convert(values), attrs)
    return xr.Dataset(data)


@pytest.fixture(scope="module")
def expected(sheet: Path) -> str:
    return fivefig.encode(SAMPLES / "winter_jet.csv", sheet).text


def test_the_message_of_the_readme(expected: str) -> None:
    readme = (SAMPLES.parent / "README.md").read_text()
    first = expected.split("\n\n")[0].splitlines()
    assert len(first) == 5
    assert "\n".join(first) in readme


def test_every_table_gives_the_same_message(columns: Columns, sheet: Path, expected: str) -> None:
    path = SAMPLES / "winter_jet.csv"
    frame = pd.DataFrame(columns)
    arrow = pa.table(columns)
    tables: dict[str, Any] = {
        "str": str(path),
        "bytes": path.read_bytes(),
        "file": io.BytesIO(path.read_bytes()),
        "dict": columns,
        "lists": {name: [None if np.isnan(v) else v for v in a] for name, a in columns.items()},
        "masked": {name: np.ma.masked_invalid(a) for name, a in columns.items()},
        "pandas": frame,
        "pandas with an index": frame.set_index("time_s"),
        "pandas nullable": frame.convert_dtypes(),
        "pandas arrow": frame.convert_dtypes(dtype_backend="pyarrow"),
        "polars": pl.DataFrame(columns),
        "pyarrow": arrow,
        "pyarrow in pieces": pa.concat_tables([arrow.slice(0, 100), arrow.slice(100)]),
        "record batch": arrow.to_batches()[0],
        "xarray": cf_dataset(columns),
        "our own table": fivefig.encode(path, sheet).rows,
    }
    del tables["our own table"]
    for name, table in tables.items():
        assert fivefig.encode(table, sheet).text == expected, name


def test_duckdb_passes_a_query(columns: Columns, sheet: Path, expected: str) -> None:
    frame = pl.DataFrame(columns)  # noqa: F841 (the query names it)
    relation = duckdb.sql("select * from frame order by time_s")
    assert relation is not None
    assert fivefig.encode(relation.to_arrow_table(), sheet).text == expected
    assert fivefig.encode(relation, sheet).text == expected


def test_columns_by_another_name_and_unit(columns: Columns, sheet: Path, expected: str) -> None:
    frame = pd.DataFrame(columns).rename(columns={"pressure_hpa": "PRES", "temperature_c": "TEMP"})
    frame["PRES"] *= 100
    frame["TEMP"] += 273.15
    mapping = {"pressure_hpa": ("PRES", "Pa"), "temperature_c": ("TEMP", "K")}
    assert fivefig.encode(frame, sheet, columns=mapping).text == expected
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert fivefig.encode(pl.from_pandas(frame), sheet, columns=mapping).text == expected


def test_cf_names_with_their_units_are_enough(columns: Columns, sheet: Path, expected: str) -> None:
    fields = []
    arrays = []
    for ours, values in columns.items():
        name, unit, convert = CF[ours]
        name = "time_s" if name == "elapsed" else name
        fields.append(pa.field(name, pa.float64(), metadata={"units": unit}))
        arrays.append(pa.array(convert(values)))
    table = pa.table(arrays, schema=pa.schema(fields))
    assert fivefig.encode(table, sheet).text == expected


def test_units_of_pint_are_converted(columns: Columns, sheet: Path, expected: str) -> None:
    units: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    quantities = dict(columns)
    quantities["pressure_hpa"] = units.Quantity(columns["pressure_hpa"] * 100, "Pa")
    quantities["temperature_c"] = units.Quantity(columns["temperature_c"] + 273.15, "K")
    quantities["humidity_pct"] = units.Quantity(columns["humidity_pct"] / 100, "dimensionless")
    quantities["height_gpm"] = units.Quantity(columns["height_gpm"] / 1000, "km")
    assert fivefig.encode(quantities, sheet).text == expected
    quantities["pressure_hpa"] = units.Quantity(columns["pressure_hpa"], "K")
    with pytest.raises(fivefig.ProfileError, match="pressure_hpa.*does not convert to hPa"):
        fivefig.encode(quantities, sheet)


def test_times_are_seconds_after_the_first(columns: Columns, sheet: Path, expected: str) -> None:
    release = datetime(2031, 1, 15, 11, 23, 40)
    for zone in (None, timezone.utc):
        start = release.replace(tzinfo=zone)
        times = [start + timedelta(seconds=float(s)) for s in columns["time_s"]]
        rest = {name: values for name, values in columns.items() if name != "time_s"}
        assert fivefig.encode(pl.DataFrame({"time_s": times, **rest}), sheet).text == expected
    spans = {**rest, "time_s": pd.to_timedelta(columns["time_s"], unit="s")}
    assert fivefig.encode(pd.DataFrame(spans), sheet).text == expected


def test_the_sheet_may_be_a_dict_text_or_path(columns: Columns, sheet: Path, expected: str) -> None:
    text = sheet.read_text()
    table = tomllib.loads(text)
    for given in (text, str(sheet), table, json.dumps(table), [table, {"station": {"name": "Another (invented)"}}]):
        assert fivefig.encode(columns, given).text == expected
    table["flight"]["release"] = datetime(2031, 1, 15, 12, 23, 40, tzinfo=timezone(timedelta(hours=1)))
    assert fivefig.encode(columns, table).text == expected


def test_every_sample_by_path_and_by_frame() -> None:
    for path in sorted(SAMPLES.glob("*.csv")):
        sheet = path.with_suffix(".toml")
        table = tomllib.loads(sheet.read_text())
        if "text" in table or path.stem in ("descent", "pilot"):
            continue
        frame = pd.read_csv(path, comment="#")
        if "columns" not in table and not set(frame.columns) <= {c for c, _, _ in fivefig.COLUMNS}:
            continue
        by_path, by_frame = fivefig.encode(path, sheet), fivefig.encode(frame, sheet)
        assert by_path.text == by_frame.text, path.name
        assert by_path.bufr == by_frame.bufr, path.name
