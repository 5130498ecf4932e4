"""Reports as a dataset by the CF conventions."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from . import _native
from ._native import Report

if TYPE_CHECKING:
    import xarray

# Column of the table: variable, standard name, unit, what it is.
_VARIABLES = {
    "pressure_hpa": ("air_pressure", "air_pressure", "hPa", "pressure"),
    "height_gpm": ("geopotential_height", "geopotential_height", "m", "geopotential height"),
    "temperature_c": ("air_temperature", "air_temperature", "degC", "temperature"),
    "dewpoint_c": ("dew_point_temperature", "dew_point_temperature", "degC", "dew point over water"),
    "humidity_pct": ("relative_humidity", "relative_humidity", "%", "relative humidity over water"),
    "wind_dir_deg": ("wind_from_direction", "wind_from_direction", "degree", "direction of the wind"),
    "wind_speed_ms": ("wind_speed", "wind_speed", "m s-1", "speed of the wind"),
    "time_s": ("elapsed_time", None, "s", "time after release"),
    "latitude_deg": ("sonde_latitude", "latitude", "degrees_north", "latitude of the sonde"),
    "longitude_deg": ("sonde_longitude", "longitude", "degrees_east", "longitude of the sonde"),
}


def to_dataset(reports: Report | Iterable[Report], *, rows: bool = False) -> xarray.Dataset:
    """Reports as an xarray ``Dataset``: an archive of soundings by the CF conventions.

    The layout is the contiguous ragged array of profiles (CF-1.11, H.3.4): the levels of
    all reports lie along ``obs``, one after the other, and ``row_size`` says how many of
    them belong to each ``profile``.

    Parameters
    ----------
    reports
        One report or several.
    rows
        Whether every row of the profiles is taken, and not the levels alone.
    """
    import numpy as np
    import xarray as xr

    given = [reports] if isinstance(reports, Report) else list(reports)
    tables = [report.rows if rows else report.levels for report in given]
    sizes = np.array([len(table) for table in tables], dtype="i4")

    def numbers(column: str) -> Any:
        parts = [np.array([np.nan if v is None else v for v in t[column]], "f8") for t in tables]
        return np.concatenate(parts) if parts else np.array([], "f8")

    def times(values: list[Any]) -> Any:
        plain = [None if v is None else v.replace(tzinfo=None) for v in values]
        return np.array([np.datetime64("NaT") if v is None else v for v in plain], "M8[ns]")

    data: dict[str, Any] = {}
    for column, (name, standard, unit, what) in _VARIABLES.items():
        attrs = {"units": unit, "long_name": what}
        if standard:
            attrs["standard_name"] = standard
        data[name] = ("obs", numbers(column), attrs)
    bits = dict(_native.SIGNIFICANCE)
    flags = [sum(bits[name] for name in names) for t in tables for names in t["significance"]]
    data["significance"] = (
        "obs",
        np.array(flags, dtype="i4"),
        {
            "long_name": "vertical significance, BUFR flag table 0 08 042",
            "flag_masks": np.array(list(bits.values()), dtype="i4"),
            "flag_meanings": " ".join(bits),
        },
    )
    data["row_size"] = (
        "profile",
        sizes,
        {"long_name": "number of levels", "sample_dimension": "obs"},
    )
    positions = [report.position or (np.nan, np.nan) for report in given]
    elevations = [np.nan if r.elevation is None else r.elevation for r in given]
    names = [f"{r.station or ''} {r.day_hour[0]:02}T{r.day_hour[1]:02}Z {n}" for n, r in enumerate(given, 1)]
    coords = {
        "profile_id": ("profile", names, {"cf_role": "profile_id"}),
        "station": ("profile", [r.station or "" for r in given], {"long_name": "station"}),
        "form": ("profile", [r.form for r in given], {"long_name": "code form"}),
        "time": (
            "profile",
            times([r.time for r in given]),
            {"standard_name": "time", "long_name": "standard time"},
        ),
        "latitude": (
            "profile",
            np.array([p[0] for p in positions], "f8"),
            {"standard_name": "latitude", "units": "degrees_north"},
        ),
        "longitude": (
            "profile",
            np.array([p[1] for p in positions], "f8"),
            {"standard_name": "longitude", "units": "degrees_east"},
        ),
        "station_height": (
            "profile",
            np.array(elevations, "f8"),
            {"standard_name": "surface_altitude", "units": "m"},
        ),
    }
    attrs = {
        "Conventions": "CF-1.11",
        "featureType": "profile",
        "source": f"fivefig {_native.__version__}",
    }
    return xr.Dataset(data, coords=coords, attrs=attrs)
