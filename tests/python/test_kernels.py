"""The pieces that others build on, against published values and a general library."""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import fivefig
from conftest import SAMPLES, SHEET, Columns, read_columns

warnings.filterwarnings("ignore")


def standard_atmosphere() -> tuple[Any, Any, Any]:
    """US Standard Atmosphere 1976: -6.5 K/km to 11 km, isothermal to 20 km, then +1 K/km;
    p by its formulas (NOAA-S/T 76-1562, equations 33a and 33b)."""
    z = np.arange(0.0, 25_000.0, 100.0)
    t = np.where(z <= 11_000, 288.15 - 0.0065 * z, np.where(z <= 20_000, 216.65, 216.65 + 0.001 * (z - 20_000)))
    k = 9.80665 / 287.053
    low = 1013.25 * (288.15 / (288.15 - 0.0065 * np.minimum(z, 11_000))) ** (-k / 0.0065)
    p11 = 1013.25 * (216.65 / 288.15) ** (k / 0.0065)
    middle = p11 * np.exp(-k * (np.minimum(z, 20_000) - 11_000) / 216.65)
    p20 = p11 * np.exp(-k * 9_000 / 216.65)
    high = p20 * (216.65 / (216.65 + 0.001 * np.maximum(z - 20_000, 0))) ** (k / 0.001)
    return np.where(z <= 11_000, low, np.where(z <= 20_000, middle, high)), z, t - 273.15


def test_the_tropopause_of_the_standard_atmosphere() -> None:
    p, z, t = standard_atmosphere()
    found = fivefig.tropopause(p, z, t)
    assert len(found) == 1
    # 11 km, 226.32 hPa, -56.5 degrees C: NOAA-S/T 76-1562, table I.
    assert found[0].height_gpm == 11_000
    assert abs(found[0].pressure_hpa - 226.32) < 0.01
    assert abs(found[0].temperature_c + 56.5) < 1e-9
    assert fivefig.tropopause(p[:80], z[:80], t[:80]) == []


def test_levels_of_a_frame_without_a_sheet(columns: Columns) -> None:
    chosen = fivefig.choose_levels(columns)
    report = fivefig.encode(columns, SHEET)
    keys = ("pressure_hpa", "temperature_c", "significance", "reasons", "row")
    assert {k: chosen[k] for k in keys} == {k: report.levels[k] for k in keys}
    assert set(chosen["groups"][0]) == set() and chosen["station"][0] is None
    winds = fivefig.choose_levels(columns, form="pilot")
    assert len(winds) > 0
    with pytest.raises(fivefig.FormError, match="no row has a temperature"):
        fivefig.choose_levels({n: v for n, v in columns.items() if n != "temperature_c"})


def least(work: Callable[[], Any], times: int = 5) -> float:
    """The least time of some runs, s."""
    out = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        out.append(time.perf_counter() - start)
    return min(out)


def state(what: str, own: float, peer: float, departure: str) -> None:
    print(f"{what}: {own * 1e3:.3f} ms, MetPy {peer * 1e3:.3f} ms, ratio {peer / own:.2f}; {departure}")


def test_dew_point_against_metpy(columns: Columns) -> None:
    from metpy.calc import dewpoint_from_relative_humidity
    from metpy.units import units

    t, u = columns["temperature_c"], columns["humidity_pct"]
    keep = (t > -30) & (u >= 5)
    t, u = np.tile(t[keep], 20), np.tile(u[keep], 20)

    def peer() -> Any:
        return dewpoint_from_relative_humidity(t * units.degC, u * units.percent).to("degC").magnitude

    own = fivefig.dewpoint(t, u)
    # Another formula for saturation; 0.1 K as in tests/peers/thermodynamics.py, which
    # compares above -40 degrees C of dew point.
    warm = peer() > -40
    departure = np.abs(own - peer())[warm].max()
    assert departure < 0.1
    state("dew point", least(lambda: fivefig.dewpoint(t, u)), least(peer), f"at most {departure:.3f} K apart")
    assert np.isnan(fivefig.dewpoint([10.0, np.nan], [0.0, 50.0])).all()
    assert fivefig.dewpoint([[10.0]], 100.0).shape == (1, 1)
    # Saturated air: the dew point is the temperature.
    assert abs(float(fivefig.dewpoint(15.0, 100.0)) - 15.0) < 1e-6


def test_thickness_against_metpy(columns: Columns) -> None:
    from metpy.calc import thickness_hydrostatic
    from metpy.units import units

    p, t = columns["pressure_hpa"], columns["temperature_c"]
    own = fivefig.thickness(p, t)

    def peer() -> float:
        return float(thickness_hydrostatic(p * units.hPa, t * units.degC).to("m").magnitude)

    # Gas constant 287.05 (WMO-No. 8) and 287.047 J/(kg K); standard gravity in both.
    departure = abs(own / peer() - 1)
    assert departure < 1e-4
    state("thickness", least(lambda: fivefig.thickness(p, t)), least(peer), f"{departure:.1e} apart")
    # An isothermal layer of 273.15 K, 1000 to 500 hPa: 287.05 / 9.80665 * 273.15 * ln 2
    # = 29.27096 * 273.15 * 0.6931472 = 5541.98 gpm.
    assert abs(fivefig.thickness([1000.0, 500.0], [0.0, 0.0]) - 5541.98) < 0.05


def test_pressure_levels_against_metpy(columns: Columns) -> None:
    from metpy.interpolate import log_interpolate_1d

    p, t, z = columns["pressure_hpa"], columns["temperature_c"], columns["height_gpm"]
    surfaces = np.array([925.0, 850, 700, 500, 400, 300, 250, 200, 150, 100, 70, 50, 30, 20, 10])
    surfaces = surfaces[surfaces > p.min()]
    # The general library needs rows of distinct pressure.
    keep = np.concatenate([[True], np.diff(p) < 0])

    def peer() -> Any:
        return log_interpolate_1d(surfaces, p[keep], t[keep], z[keep])

    table = fivefig.interpolate(columns, surfaces, SAMPLES / "winter_jet.toml")
    temperature, height = peer()
    assert np.abs(np.array(table["temperature_c"]) - temperature).max() < 0.05
    assert np.abs(np.array(table["height_gpm"]) - height).max() < 1.0
    state(
        f"{len(surfaces)} pressure levels",
        least(lambda: fivefig.interpolate(columns, surfaces, SAMPLES / "winter_jet.toml")),
        least(peer),
        "0.05 K, 1 gpm allowed; the whole profile is checked and prepared in ours",
    )
    outside = fivefig.interpolate(columns, [1050.0, 0.5])
    assert outside["temperature_c"] == [None, None]
    assert outside["pressure_hpa"] == [1050.0, 0.5]


def test_bufr_against_eccodes() -> None:
    """A message with every row, read into a frame by both."""
    import eccodes as ec
    import pandas as pd

    octets = fivefig.encode(SAMPLES / "winter_jet.csv", SAMPLES / "winter_jet.toml").bufr
    elements = ("airTemperature", "dewpointTemperature", "nonCoordinateGeopotentialHeight")

    def peer() -> pd.DataFrame:
        handle = ec.codes_new_from_message(octets)
        try:
            ec.codes_set(handle, "unpack", 1)
            # The level of the clouds has no pressure; the rows have one each.
            columns = {key: ec.codes_get_array(handle, key)[-len(ours) :] for key in elements}
            pressures = ec.codes_get_array(handle, "pressure")[: len(ours)]
            frame = pd.DataFrame({"pressure": pressures, **columns})
            return frame.where(frame > -1e99)
        finally:
            ec.codes_release(handle)

    def own() -> pd.DataFrame:
        return fivefig.decode_table(octets).to_pandas()

    ours = own()
    theirs = peer()
    assert len(ours) > 4000
    # Ours stand lowest first; the writer sorts by time.
    ours = ours.sort_values("time_s", kind="stable")
    assert np.allclose(np.sort(theirs["pressure"] / 100), np.sort(ours["pressure_hpa"]), atol=1e-6)
    for theirs_, ours_, zero in (
        ("airTemperature", "temperature_c", 273.15),
        ("dewpointTemperature", "dewpoint_c", 273.15),
        ("nonCoordinateGeopotentialHeight", "height_gpm", 0.0),
    ):
        a, b = np.sort(theirs[theirs_].dropna()) - zero, np.sort(ours[ours_].dropna())
        assert len(a) == len(b) and np.allclose(a, b, atol=1e-6), ours_
    own_s, peer_s = least(own, 3), least(peer, 3)
    print(f"BUFR of {len(ours)} levels to a frame: {own_s * 1e3:.1f} ms, ecCodes {peer_s * 1e3:.1f} ms, ratio {peer_s / own_s:.1f}")


def test_read_columns_reads_every_column() -> None:
    assert len(read_columns("winter_jet.csv")["pressure_hpa"]) > 4000
