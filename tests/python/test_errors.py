"""Bad input: an exception with what, where and what to do, and never the end of the
interpreter."""

from __future__ import annotations

import io
import pickle
import random
import time
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest
import xarray as xr

import fivefig
from conftest import SAMPLES, SHEET, VECTORS, Columns, seconds


def few(columns: Columns, rows: int = 400) -> Columns:
    return {name: values[:rows].copy() for name, values in columns.items()}


def test_a_frame_without_a_needed_column(columns: Columns) -> None:
    table = few(columns)
    del table["temperature_c"]
    with pytest.raises(fivefig.FormError, match="no row has a temperature, which TEMP needs"):
        fivefig.encode(table, SHEET)
    with pytest.raises(fivefig.ProfileError, match="no column is known.*did you mean pressure_hpa"):
        fivefig.encode({"presure_hpa": table["pressure_hpa"]}, SHEET)
    with pytest.raises(fivefig.ProfileError, match="no column is known"):
        fivefig.encode(pd.DataFrame({"a": [1.0]}), SHEET)


def test_values_out_of_bounds_are_named_row_by_row(columns: Columns) -> None:
    table = few(columns)
    table["pressure_hpa"][[4, 9]] = [-1.0, 5000.0]
    with pytest.raises(fivefig.ProfileError) as error:
        fivefig.encode(pl.DataFrame(table), SHEET)
    assert "table:5:" in str(error.value)
    assert [finding.place["line"] for finding in error.value.findings] == [5, 10]
    assert error.value.place["line"] == 5
    assert all("1100 hPa is allowed" in str(f.allowed) for f in error.value.findings)
    assert isinstance(error.value, ValueError)
    again = pickle.loads(pickle.dumps(error.value))
    assert (str(again), again.place, again.kind) == (str(error.value), error.value.place, "file")


def test_wrong_units(columns: Columns) -> None:
    table = few(columns)
    frame = pd.DataFrame(table).rename(columns={"pressure_hpa": "p"})
    with pytest.raises(fivefig.FivefigError, match="unit|furlong"):
        fivefig.encode(frame, SHEET, columns={"pressure_hpa": ("p", "furlong")})
    with pytest.raises(fivefig.ProfileError, match="does not state its unit; give one of hPa, Pa"):
        fivefig.encode({"air_pressure": table["pressure_hpa"]}, SHEET)
    wrong = {"air_pressure": ("z", table["pressure_hpa"], {"standard_name": "air_pressure", "units": "K"})}
    with pytest.raises(fivefig.ProfileError, match="unit `K` is not one of hPa, Pa"):
        fivefig.encode(xr.Dataset(wrong), SHEET)
    with pytest.raises(fivefig.FivefigError, match="no column `q`|there is no column"):
        fivefig.encode(frame, SHEET, columns={"pressure_hpa": "q"})


def test_types_that_are_no_numbers(columns: Columns) -> None:
    table: dict[str, Any] = dict(few(columns))
    table["pressure_hpa"] = np.array(["high"] * 400, dtype=object)
    with pytest.raises(fivefig.ProfileError, match="column pressure_hpa: the d?type is .*; numbers are expected"):
        fivefig.encode(pd.DataFrame(table), SHEET)
    with pytest.raises(fivefig.ProfileError, match="pressure_hpa.*numbers are expected"):
        fivefig.encode(pl.DataFrame({**few(columns), "pressure_hpa": ["high"] * 400}), SHEET)
    with pytest.raises(fivefig.ProfileError, match="2 dimensions; one is expected"):
        fivefig.encode({"pressure_hpa": np.ones((3, 3))}, SHEET)
    with pytest.raises(fivefig.ProfileError, match="columns of one length"):
        fivefig.encode({"pressure_hpa": np.ones(3), "temperature_c": np.ones(4)}, SHEET)


def test_nan_everywhere(columns: Columns) -> None:
    table = {name: np.full(400, np.nan) for name in columns}
    with pytest.raises(fivefig.FivefigError, match="missing in every row; one of them is needed") as error:
        fivefig.encode(table, SHEET)
    assert error.value.findings
    with pytest.raises(fivefig.ProfileError, match="no row of numbers|no row"):
        fivefig.encode({name: values[:0] for name, values in columns.items()}, SHEET)


def test_a_closed_file_and_a_missing_one() -> None:
    file = open(SAMPLES / "winter_jet.csv", "rb")
    file.close()
    with pytest.raises(fivefig.InvalidValueError, match="winter_jet.csv: .*closed file; give an open"):
        fivefig.encode(file, SHEET)
    with pytest.raises(FileNotFoundError, match="there is no such file"):
        fivefig.encode("none.csv", SHEET)
    with pytest.raises(fivefig.SheetError, match="none.toml"):
        fivefig.encode(SAMPLES / "winter_jet.csv", "none.toml")
    with pytest.raises(fivefig.FivefigError, match="folder"):
        fivefig.encode(SAMPLES, SHEET)


@pytest.mark.parametrize("content", [b"", b"\0" * 100, b"\xff\xfe\xfd", b"BUFR", b"{", b"\x89HDF\r\n\x1a\n"])
def test_bytes_that_are_nothing(content: bytes) -> None:
    with pytest.raises(fivefig.ProfileError):
        fivefig.encode(content, SHEET)
    with pytest.raises(fivefig.MessageError) as error:
        fivefig.decode(content)
    assert str(error.value)


def test_sheets_with_faults_name_the_key(columns: Columns) -> None:
    sheet = {**SHEET, "station": {**SHEET["station"], "latitude_deg": 951.0}}
    with pytest.raises(fivefig.SheetError) as error:
        fivefig.encode(columns, sheet)
    assert error.value.place["key"] == "station.latitude_deg"
    assert error.value.findings[0].place["key"] == "station.latitude_deg"
    with pytest.raises(fivefig.SheetError, match=r"sheet:2:1: unknown key .latitud_deg. .*did you mean .latitude_deg."):
        fivefig.encode(columns, "[station]\nlatitud_deg = 5\n")
    with pytest.raises(fivefig.FivefigError):
        fivefig.encode(columns)
    with pytest.raises(TypeError, match="a sheet is a dict"):
        fivefig.encode(columns, 5)
    with pytest.raises(TypeError, match="a profile is a path"):
        fivefig.encode(5, SHEET)
    with pytest.raises(TypeError, match="messages are text"):
        fivefig.decode(5)


def test_values_of_arguments() -> None:
    text = "TTAA 15110 99011 99004 04430 23006 88999 77999="
    with pytest.raises(fivefig.InvalidValueError, match='date is "31"'):
        fivefig.decode(text, date="31")
    with pytest.raises(fivefig.InvalidValueError, match='form is "x"'):
        fivefig.encode(SAMPLES / "winter_jet.csv", SHEET, form="x")  # type: ignore[arg-type]
    with pytest.raises(fivefig.InvalidValueError, match='table is "x"'):
        fivefig.decode_table(text, "x")  # type: ignore[arg-type]
    with pytest.raises(fivefig.InvalidValueError, match="one length"):
        fivefig.tropopause([1000.0], [0.0, 1.0], [5.0])
    with pytest.raises(fivefig.FivefigError):
        fivefig.tropopause([900.0, 1000.0], [0.0, 1000.0], [5.0, 5.0])
    with pytest.raises(fivefig.MessageError, match="no report could be read"):
        fivefig.decode("nothing of the kind")


def fuzz(content: bytes) -> None:
    """Everything that takes bytes; what it raises is an exception of the package."""
    for call in (
        lambda: fivefig.decode_table(content, "findings"),
        lambda: [one.json for one in fivefig.decode(content)],
        lambda: fivefig.encode(content, SHEET),
    ):
        try:
            call()
        except fivefig.InternalError:
            raise
        except fivefig.FivefigError as error:
            assert str(error)


def test_damaged_input_never_ends_the_interpreter() -> None:
    """Damaged samples for FIVEFIG_FUZZ_SECONDS (10 by default)."""
    dice = random.Random(20310115)
    flight = fivefig.encode(SAMPLES / "minute.csv", SAMPLES / "minute.toml")
    seeds = [flight.text.encode(), flight.bufr, flight.json.encode()]
    seeds += [(SAMPLES / name).read_bytes() for name in ("minute.csv", "minute.toml")]
    seeds += [path.read_bytes() for path in sorted(VECTORS.glob("land_*.toml"))]
    end, done = time.monotonic() + seconds("FIVEFIG_FUZZ_SECONDS", 10), 0
    while time.monotonic() < end:
        content = bytearray(dice.choice(seeds))
        for _ in range(dice.randrange(1, 8)):
            at = dice.randrange(len(content))
            match dice.randrange(4):
                case 0:
                    content[at] = dice.randrange(256)
                case 1:
                    del content[at : at + dice.randrange(1, 40)]
                case 2:
                    content[at:at] = dice.randbytes(dice.randrange(1, 8))
                case _:
                    content[at:at] = content[: dice.randrange(1, 200)]
            if not content:
                content = bytearray(b" ")
        fuzz(bytes(content))
        done += 1
    assert done > 0
    print(f"{done} damaged inputs")


def test_damaged_tables_never_end_the_interpreter(columns: Columns) -> None:
    dice = np.random.default_rng(20310115)
    for _ in range(60):
        table = few(columns, int(dice.integers(1, 300)))
        for name in table:
            values = table[name]
            for _ in range(int(dice.integers(0, 6))):
                strange = [np.nan, np.inf, -np.inf, 0.0, -0.0, 1e308, -1e308, 1e-320]
                values[int(dice.integers(len(values)))] = dice.choice(strange)
        try:
            fivefig.encode(pa.table(table), SHEET).bufr
        except fivefig.InternalError:
            raise
        except fivefig.FivefigError as error:
            assert str(error)
