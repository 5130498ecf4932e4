"""Many flights: in parallel, in order, failures as rows, and the same figures as one by
one."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import polars as pl
import pyarrow as pa
import pytest

import fivefig
from conftest import SHEET, Columns, read_columns


def archive(columns: Columns, count: int) -> pa.Table:
    """Flights, one per row: every nth row of a sample, each a little warmer or colder;
    the third has a pressure that cannot be."""
    flights: dict[str, list[Any]] = {"id": [], "sheet": [], **{name: [] for name in columns}}
    for number in range(count):
        flights["id"].append(f"flight-{number}")
        flights["sheet"].append(json.dumps(SHEET))
        for name, values in columns.items():
            own = values[:: 5 + number % 4].copy()
            if name == "temperature_c":
                own = np.round(own + number % 7 / 10, 2)
            if name == "pressure_hpa" and number == 2:
                own[3] = 5000.0
            flights[name].append(own)
    return pa.table(flights)


@pytest.fixture(scope="module")
def flights() -> pa.Table:
    return archive(read_columns("winter_jet.csv"), 12)


def profile(flights: pa.Table, row: int) -> Columns:
    own = flights.slice(row, 1)
    skipped = ("id", "sheet")
    return {n: np.array(own[n][0].values) for n in own.column_names if n not in skipped}


def test_a_table_of_flights_gives_a_table_of_reports(flights: pa.Table) -> None:
    table = fivefig.encode_table(flights, threads=2, bufr=True)
    frame = table.to_polars()
    assert frame["file"].to_list() == flights["id"].to_pylist()
    assert frame["report"].to_list() == list(range(1, 13))
    refused = frame.filter(pl.col("error").is_not_null())
    assert refused["report"].to_list() == [3]
    assert "5000" in refused["error"][0] and refused["error_kind"][0] == "file"
    assert refused["text"][0] is None
    for row in (0, 7):
        one = fivefig.encode(profile(flights, row), SHEET)
        assert frame["text"][row] == one.text
        assert frame["bufr"][row] == one.bufr
    # Any number of threads, and any division into batches.
    again = fivefig.encode_table(pa.Table.from_batches(flights.to_batches(max_chunksize=5)), threads=1, bufr=True)
    assert again.to_polars().equals(frame)


def test_flights_in_order_with_their_errors(flights: pa.Table) -> None:
    results = list(fivefig.encode_many(flights, threads=2, errors="return"))
    assert len(results) == 12
    assert [isinstance(one, fivefig.FivefigError) for one in results].count(True) == 1
    assert isinstance(results[2], fivefig.ProfileError)
    assert results[2].place["line"] == 4
    given = fivefig.encode_many(flights, threads=2)
    next(given), next(given)
    with pytest.raises(fivefig.ProfileError, match="5000"):
        next(given)


def test_frames_and_pairs_are_flights(flights: pa.Table) -> None:
    frames = [profile(flights, row) for row in (0, 1, 3)]
    expected = [fivefig.encode(frame, SHEET).text for frame in frames]
    for given in (
        fivefig.encode_many(frames, SHEET),
        fivefig.encode_many((pl.DataFrame(frame) for frame in frames), SHEET),
        fivefig.encode_many([(frame, SHEET) for frame in frames]),
    ):
        assert [one.text for one in given if isinstance(one, fivefig.Report)] == expected
    assert fivefig.encode_table(frames, SHEET)["text"] == expected
    # The sheet of the call has the last word.
    other = {"station": {"wmo_number": 12}}
    own = fivefig.encode_table(flights.slice(0, 1), other)
    assert own["station"] == ["99012"]


def test_what_is_no_table_of_flights(flights: pa.Table, columns: Columns) -> None:
    with pytest.raises(fivefig.ProfileError, match="not a table of flights"):
        fivefig.encode_table(pa.table(columns))
    with pytest.raises(fivefig.ProfileError, match="needs a column id"):
        fivefig.encode_table(flights.drop_columns(["id"]))
    with pytest.raises(TypeError, match="flights are an iterable"):
        fivefig.encode_table("path.csv")
    assert len(fivefig.encode_table([])) == 0


def test_traffic_as_one_table(columns: Columns) -> None:
    texts = []
    for day in (1, 2, 3):
        release = f"2031-01-{day:02}T11:23:40Z"
        flight = {"release": release, "standard_time": f"2031-01-{day:02}T12:00:00Z"}
        sheet = {**SHEET, "flight": flight, "bulletin": {"area": "XX", "ii": 1, "centre": "XXXX"}}
        texts.append(fivefig.encode(columns, sheet).bulletins())
    traffic = "".join(texts)
    levels = fivefig.decode_table(traffic, date="2031-01").to_polars()
    assert levels["report"].unique().sort().to_list() == [1, 2, 3]
    # GG is the hour of the release at 11:23.
    assert [str(t) for t in levels["time"].unique().sort()] == [
        f"2031-01-{day:02} 11:00:00+00:00" for day in (1, 2, 3)
    ]
    reports = fivefig.decode(traffic, date="2031-01")
    assert sum(len(report.levels) for report in reports) == len(levels)
    summary = fivefig.decode_table(traffic, "summary", date="2031-01").to_polars()
    assert summary["received"].to_list() == [4, 4, 4]
    assert summary["errors"].to_list() == [0, 0, 0]
    by_report = fivefig.decode_table(traffic, "reports", date="2031-01")
    assert by_report["parts"] == ["ABCD"] * 3
    assert by_report["text"] == [report.text for report in reports]
    found = fivefig.decode_table(traffic.replace("TTBB", "TTBX", 1), "findings")
    assert len(found) > 0 and set(found["severity"]) <= {"error", "warning", "info"}


def test_threads_must_be_few_and_positive() -> None:
    assert len(list(fivefig.encode_many([], threads=1))) == 0
