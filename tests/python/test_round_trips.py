"""Round trips of profiles that no one chose: what is written is what is read."""

from __future__ import annotations

import numpy as np
import polars as pl
import pyarrow as pa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import fivefig
from conftest import SHEET, Columns


@st.composite
def profiles(draw: st.DrawFn) -> Columns:
    """An ascent of 20 to 200 rows from 1004 hPa, with gaps."""
    seed = draw(st.integers(0, 2**32 - 1))
    rows = draw(st.integers(20, 200))
    top = draw(st.sampled_from([600.0, 101.0, 99.0, 12.0]))
    gaps = draw(st.floats(0, 0.3))
    dice = np.random.default_rng(seed)
    p = np.round(np.geomspace(1004.0, top, rows), 2)
    z = np.round(84 + 7400 * np.log(1004.0 / p), 1)
    t = np.round(np.clip(5 - 0.0055 * z, -70, None) + dice.normal(0, 1.5, rows), 1)
    u = np.round(np.clip(60 + 30 * np.sin(z / 900) + dice.normal(0, 5, rows), 1, 100))
    direction = np.round((240 + np.cumsum(dice.normal(0, 4, rows))) % 360)
    speed = np.round(np.abs(8 + z / 700 + dice.normal(0, 3, rows)), 1)
    lost = dice.random(rows) < gaps
    lost[:3] = False
    for values in (u, direction, speed):
        values[lost] = np.nan
    return {
        "time_s": np.arange(rows) * 10.0,
        "pressure_hpa": p,
        "height_gpm": z,
        "temperature_c": t,
        "humidity_pct": u,
        "wind_dir_deg": direction,
        "wind_speed_ms": speed,
    }


QUICK = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@QUICK
@given(profiles())
def test_messages_read_back(columns: Columns) -> None:
    report = fivefig.encode(columns, SHEET)
    for sent in (report.text, report.bufr, report.json):
        (read,) = fivefig.decode(sent, date="2031-01")
        found = [difference.to_dict() for difference in fivefig.compare(report, read)]
        # Maxima that rounding makes equal may change places in the text.
        assert [one for one in found if one["difference"] != "maximum_order"] == []
        # BUFR has no figures, so a text of it is rounded from its own steps.
        assert sent == report.bufr or read.text == report.text
    assert fivefig.decode_table(report.text)["groups"] == fivefig.decode(report.text)[0].levels["groups"]


@QUICK
@given(profiles())
def test_tables_pass_through_unchanged(columns: Columns) -> None:
    levels = fivefig.encode(columns, SHEET).levels
    by_lists = levels.to_dict()
    assert pa.table(levels).to_pydict().keys() == by_lists.keys()
    assert pa.table(levels).drop_columns(["time", "release"]).to_pydict() == {
        name: values for name, values in by_lists.items() if name not in ("time", "release")
    }
    assert pl.DataFrame(levels)["pressure_hpa"].to_list() == by_lists["pressure_hpa"]


@QUICK
@given(profiles(), st.sampled_from(["dict", "polars", "pyarrow", "pandas"]))
def test_one_profile_one_message(columns: Columns, kind: str) -> None:
    frame = pl.DataFrame(columns)
    other = {
        "dict": columns,
        "polars": frame.fill_nan(None),
        "pyarrow": frame.to_arrow(),
        "pandas": frame.to_pandas(),
    }[kind]
    assert fivefig.encode(other, SHEET).text == fivefig.encode(frame, SHEET).text


@QUICK
@given(st.binary(max_size=300) | st.text(max_size=300).map(str.encode))
def test_any_bytes_give_reports_or_an_exception(content: bytes) -> None:
    try:
        assert fivefig.decode(content)
    except fivefig.FivefigError as error:
        assert not isinstance(error, fivefig.InternalError) and str(error)
