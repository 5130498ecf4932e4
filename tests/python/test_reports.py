"""What a report gives, and that reading gives it back."""

from __future__ import annotations

import json
from datetime import datetime, timezone
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest
import xarray as xr

import fivefig
from conftest import SAMPLES, SHEET, Columns


@pytest.fixture(scope="module")
def report(sheet: Path) -> fivefig.Report:
    return fivefig.encode(SAMPLES / "winter_jet.csv", sheet)


def test_the_outputs_read_back(report: fivefig.Report) -> None:
    for sent in (report.text, report.bulletins(), report.bufr, report.json):
        read = fivefig.decode(sent, date="2031-01")
        assert [one.station for one in read] == ["99011"]
        assert fivefig.compare(report, read[0]) == []
    assert fivefig.decode(report.text)[0].text == report.text
    assert fivefig.decode(report.json)[0].text == report.text


def test_attributes(report: fivefig.Report) -> None:
    assert (report.form, report.station, report.parts) == ("temp", "99011", "ABCD")
    assert report.time == datetime(2031, 1, 15, 12, tzinfo=timezone.utc)
    assert report.release == datetime(2031, 1, 15, 11, 23, 40, tzinfo=timezone.utc)
    assert report.position == (51.25, -3.4)
    assert report.elevation == 84.0
    assert report.fidelity is not None
    for line in report.fidelity["departures"]:
        assert line["before_rounding"]["outside"] == 0
    assert fivefig.decode(report.text)[0].fidelity is None
    assert fivefig.decode(report.text)[0].time is None
    assert "Report temp 99011 15T11Z" in repr(report)


def test_levels_are_a_table_for_all(report: fivefig.Report) -> None:
    levels = report.levels
    assert levels.name == "levels"
    assert len(levels) == len(levels["pressure_hpa"]) == len(levels.to_pandas())
    arrow = levels.to_arrow()
    assert arrow.schema.metadata[b"fivefig.table"] == b"levels"
    assert arrow.schema.metadata[b"fivefig.version"] == str(fivefig.TABLE_VERSION).encode()
    assert arrow.schema.field("pressure_hpa").metadata[b"unit"] == b"hPa"
    assert levels.units["temperature_c"] == "°C"
    frame = levels.to_polars()
    assert frame.columns == levels.column_names
    found = duckdb.execute(
        "select count(*), max(wind_speed_ms) from arrow where list_contains(significance, 'max_wind')"
    ).fetchall()
    assert found[0][0] == 2
    standard = frame.filter(pl.col("significance").list.contains("standard"))
    # The standard surfaces (WMO-No. 306, 35.2.2.1) up to the top at 17 hPa.
    surfaces = [1000, 925, 850, 700, 500, 400, 300, 250, 200, 150, 100, 70, 50, 30, 20]
    assert standard["pressure_hpa"].to_list() == surfaces
    row = standard.row(by_predicate=pl.col("pressure_hpa") == 850.0, named=True)
    # As the README shows it: 850 hPa is coded 85421 01756 25015.
    assert row["groups"][:3] == ["85421", "01756", "25015"]
    assert row["reasons"] == ["standard surface 850 hPa, between rows"]
    assert row["clauses"] == ["WMO-No. 306, 35.2.2.1"]
    assert row["origin"] == "interpolated" and row["parts"] == "A"
    assert frame["level"].to_list() == list(range(1, len(frame) + 1))
    with pytest.raises(KeyError, match="there is no column"):
        levels["pressure"]


def test_a_table_without_pyarrow_is_the_same(
    report: fivefig.Report, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sys

    with_arrow = report.levels.to_pandas()
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    without = report.levels.to_pandas()
    assert list(without.columns) == list(with_arrow.columns)
    assert np.allclose(without["pressure_hpa"], with_arrow["pressure_hpa"])
    assert list(without["reasons"]) == [list(r) for r in with_arrow["reasons"]]


def test_rows_hold_every_row(report: fivefig.Report, columns: Columns) -> None:
    rows = report.rows.to_polars()
    own = rows.filter(pl.col("origin") == "row")
    assert len(own) == len(columns["time_s"])
    assert len(rows) > len(own)
    # The surface is that of the sheet; the others are the rows as they were given.
    given = dict(zip(own["row"].to_list(), own["pressure_hpa"].to_list(), strict=True))
    assert [given[n + 1] for n in range(1, 50)] == list(columns["pressure_hpa"][1:50])


def test_pictures_and_pages(report: fivefig.Report, tmp_path: Path) -> None:
    drawing = report.draw("dark")
    assert drawing._repr_svg_().startswith("<svg ")
    drawing.save(tmp_path / "a.svg")
    assert (tmp_path / "a.svg").read_text() == str(drawing)
    page = report.review()
    assert page is not None and page.lstrip().lower().startswith("<!doctype html")
    assert report._repr_html_().startswith("<iframe sandbox")
    read = fivefig.decode(report.text)[0]
    assert read.draw().svg.startswith("<svg ") and read._repr_html_().startswith("<svg ")
    assert read.review() is None
    changed = report.review(was=read)
    assert changed is not None and len(changed) > 1000


def test_findings_have_code_place_and_rule(columns: Columns) -> None:
    sheet = {key: value for key, value in SHEET.items() if key != "clouds"}
    found = fivefig.encode(columns, sheet).findings
    one = next(finding for finding in found if finding.code == "no-clouds")
    assert one.place == {"key": "clouds"}
    assert one.severity in ("info", "warning") and one.what and str(one).endswith(one.what) is False


def test_check_and_compare(report: fivefig.Report) -> None:
    # Invented; a temperature that no neighbour has.
    sent = "TTAA 15110 99011 99004 04430 23006 00119 04226 22507 88999 77999="
    other = sent.replace("04226", "04626")
    lines = [str(difference) for difference in fivefig.compare(sent, other)]
    assert lines == ["temperature at 1000 hPa (standard): 4.2 °C on the left, 4.6 °C on the right"]
    (only,) = fivefig.compare(sent, other)
    assert json.loads(json.dumps(only.to_dict()))
    assert fivefig.compare(sent, sent.replace("04226", "04426"), tolerance="step") == []
    assert [f for f in fivefig.check(report) if f.severity == "error"] == []
    # 1000 hPa above the surface of 990 hPa.
    wrong = "TTAA 15110 99011 99004 04430 23006 00119 04226 22507 92850 10000 22507 88999 77999="
    assert fivefig.check(wrong) != []
    assert fivefig.check(SAMPLES / "winter_jet.csv", SAMPLES / "winter_jet.toml") != []


def test_a_correction_letter_is_in_the_heading(report: fivefig.Report) -> None:
    lines = report.bulletins(bbb="CCA").splitlines()
    assert any(line.endswith(" CCA") for line in lines)
    with pytest.raises(fivefig.InvalidValueError, match='bbb is "ZZZ"'):
        report.bulletins(bbb="ZZZ")


def test_other_forms(columns: Columns) -> None:
    pilot = fivefig.encode(SAMPLES / "pilot.csv", SAMPLES / "pilot.toml", form="pilot")
    assert pilot.form == "pilot" and pilot.text.startswith("PPAA ")
    descent = fivefig.encode(SAMPLES / "descent.csv", SAMPLES / "descent.toml", form="descent")
    assert descent.bufr[:4] == b"BUFR"
    with pytest.raises(fivefig.FormError):
        descent.text
    early = fivefig.encode(columns, SHEET, early=True)
    assert early.parts == "AB"


def test_a_dataset_keeps_the_conventions(report: fivefig.Report, tmp_path: Path) -> None:
    read = fivefig.decode(report.text, date="2031-01")
    dataset = fivefig.to_dataset([report, *read])
    assert dataset.attrs["Conventions"] == "CF-1.11"
    assert dataset.attrs["featureType"] == "profile"
    sizes = [len(report.levels), len(read[0].levels)]
    assert dataset["row_size"].values.tolist() == sizes
    assert dataset.sizes["obs"] == sum(sizes)
    assert dataset["row_size"].attrs["sample_dimension"] == "obs"
    names = {v.attrs.get("standard_name") for v in dataset.variables.values()}
    assert {"air_pressure", "air_temperature", "geopotential_height", "time"} <= names
    assert pd.Timestamp(dataset["time"].values[0]) == pd.Timestamp("2031-01-15T12:00")
    masks = dataset["significance"].attrs
    assert len(masks["flag_masks"]) == len(masks["flag_meanings"].split())
    path = tmp_path / "soundings.nc"
    dataset.to_netcdf(path)
    again = xr.open_dataset(path)
    assert np.array_equal(again["air_pressure"].values, dataset["air_pressure"].values)
    # One profile of rows codes to the same message.
    one = report.to_dataset(rows=True)
    own = one.isel(obs=one["pressure_origin"] == 0) if "pressure_origin" in one else one
    assert own.sizes["profile"] == 1


def test_empty_tables_have_the_schema() -> None:
    for name in ("levels", "reports", "findings", "summary"):
        table = fivefig.schema(name)
        assert len(table) == 0 and table.name == name
        assert pa.schema(table).names == table.column_names
    with pytest.raises(fivefig.InvalidValueError, match='table is "x"'):
        fivefig.schema("x")  # type: ignore[arg-type]
