"""NetCDF profiles against netCDF4-python: values, missing ones and times.

Called with the programs `netcdf_values` and `fivefig`; exits 1 when a value differs.
What is expected is worked out here from the stored numbers, without automatic masks
or scaling, in exact fractions: a single is its shortest decimal. FIVEFIG_NETCDF names
a folder of real files, which are also written again as NetCDF-4.
"""

import csv
import datetime
import json
import os
import pathlib
import shutil
import subprocess
import sys
from decimal import ROUND_HALF_UP, Context, Decimal, setcontext
from fractions import Fraction

import h5py
import netCDF4
import numpy as np
import xarray

# Doubles are written out in full.
setcontext(Context(prec=800))
VALUES, FIVEFIG = sys.argv[1:3]
FILES = pathlib.Path("target/peers-netcdf")
SEEDS = pathlib.Path("target/netcdf-seeds")
# What a rounding to a billionth may leave.
WITHIN = 1.01e-9
passed = failed = values_held = missing_held = times_held = 0

# Our column: standard name, and what leads to our unit.
NAMES = {
    "time_s": "time",
    "pressure_hpa": "air_pressure",
    "height_gpm": "geopotential_height",
    "altitude_m": "altitude",
    "temperature_c": "air_temperature",
    "humidity_pct": "relative_humidity",
    "dewpoint_c": "dew_point_temperature",
    "wind_dir_deg": "wind_from_direction",
    "wind_speed_ms": "wind_speed",
    "wind_u_ms": "eastward_wind",
    "wind_v_ms": "northward_wind",
    "latitude_deg": "latitude",
    "longitude_deg": "longitude",
}
UNITS = {
    "Pa": lambda v: v / 100,
    "K": lambda v: v - Fraction("273.15"),
    "1": lambda v: v * 100,
    "km": lambda v: v * 1000,
    "ft": lambda v: v * Fraction("0.3048"),
    "knots": lambda v: v * Fraction(1852, 3600),
}
# Fill values of netcdf.h; octets have none.
DEFAULTS = {k: v for k, v in netCDF4.default_fillvals.items() if k[0] in "iuf" and k[1] != "1"}


def hold(what, fits, said=""):
    global passed, failed
    passed += bool(fits)
    failed += not fits
    if not fits:
        print(f"FAILED: {what}: {str(said)[:600]}")
    return fits


def ours(path, number=0, sheet=None):
    words = [VALUES, str(path), str(number)] + ([str(sheet)] if sheet else [])
    return json.loads(subprocess.run(words, capture_output=True, text=True, check=True).stdout)


def exact(value):
    """A stored number: a single is its shortest decimal, of two as near the one
    farther from 0 (130.890625 is 130.89063, where numpy says 130.89062)."""
    if not isinstance(value, np.floating):
        return Fraction(int(value))
    if not np.isfinite(value):
        return None
    shortest = Decimal(str(value))
    rounded = Decimal(float(value)).quantize(shortest, ROUND_HALF_UP)
    return Fraction(rounded if value.dtype.type(str(rounded)) == value else shortest)


def signed(variable, raw):
    """The numbers with the sign that _Unsigned means."""
    said = str(getattr(variable, "_Unsigned", "")).lower()
    if said == "true" and raw.dtype.kind == "i":
        return raw.view(raw.dtype.str.replace("i", "u"))
    return raw


def expected(variable, at, unit=None):
    """Values of a variable in our unit, None for missing; `at` picks the rows."""
    variable.set_auto_maskandscale(False)
    stored = variable[at]
    missing = []
    for name in ("_FillValue", "missing_value"):
        if name in variable.ncattrs():
            given = np.atleast_1d(np.array(variable.getncattr(name))).astype(stored.dtype)
            missing += list(signed(variable, given))
    if "_FillValue" not in variable.ncattrs():
        kind = stored.dtype.str[1:]
        if kind in DEFAULTS:
            missing += list(signed(variable, np.array([DEFAULTS[kind]], stored.dtype)))
    missing = {m for m in (exact(m) for m in missing) if m is not None}
    scale = getattr(variable, "scale_factor", None)
    offset = getattr(variable, "add_offset", None)
    convert = UNITS.get(unit or getattr(variable, "units", ""), lambda v: v)
    out = []
    for raw in np.ravel(signed(variable, stored)):
        value = exact(raw)
        if value is None or value in missing:
            out.append(None)
            continue
        if scale is not None or offset is not None:
            value = value * exact(scale if scale is not None else np.int8(1))
            value += exact(offset if offset is not None else np.int8(0))
        out.append(convert(value))
    return out


def held_columns(what, path, mapping, number=0, sheet=None, rows=Ellipsis, units=None):
    """Every value of the columns against the file; the answer of ours."""
    global values_held, missing_held, times_held
    said = ours(path, number, sheet)
    if not hold(f"{what}: read", "error" not in said, said.get("error")):
        return None
    with netCDF4.Dataset(path) as file:
        wanted = {c for c in mapping if c != "time_s"}
        for column in wanted:
            variable = file.variables[mapping[column]]
            values = expected(variable, rows, (units or {}).get(column))
            if all(v is None for v in values):
                hold(f"{what}: {column} is missing", column not in said["columns"])
                continue
            place = said["columns"].index(column)
            got = [row[place] for row in said["rows"]]
            wrong = None
            if len(got) != len(values):
                wrong = f"{len(got)} rows, {len(values)} values"
            for i, (mine, peer) in enumerate(zip(got, values)):
                if (mine is None) != (peer is None) or (
                    mine is not None and abs(Fraction(mine) - peer) > WITHIN
                ):
                    wrong = wrong or f"row {i + 1}: {mine}, {peer and float(peer)}"
            hold(f"{what}: {column}", not wrong, wrong)
            values_held += sum(v is not None for v in values)
            missing_held += sum(v is None for v in values)
        if "time_s" in mapping:
            variable = file.variables[mapping["time_s"]]
            variable.set_auto_maskandscale(False)
            stored = np.ravel(variable[rows])
            dates = netCDF4.num2date(
                stored, variable.units, only_use_cftime_datetimes=False, only_use_python_datetimes=True
            )
            start = datetime.datetime.fromisoformat(said["start"])
            hold(f"{what}: start is the second of the first row", start == dates[0].replace(microsecond=0), said["start"])
            place = said["columns"].index("time_s")
            wrong = [
                (i, row[place], str(date))
                for i, (row, date) in enumerate(zip(said["rows"], dates))
                if abs((date - start).total_seconds() - row[place]) > 2e-6
            ]
            hold(f"{what}: times", not wrong, wrong[:1])
            times_held += len(dates)
        extra = set(said["columns"]) - set(mapping)
        hold(f"{what}: nothing else is a column", not extra, extra)
    return said


def sample(name, most):
    with open(f"samples/{name}.csv") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    rows = rows[:: max(1, len(rows) // most)]
    return {
        column: np.array([float(r[column]) if r[column] else np.nan for r in rows])
        for column in rows[0]
        if column in NAMES
    }


def write(path, data, format="NETCDF4", types=None, units=None, pack=None, **storage):
    """A file of invented data; a NaN becomes the fill value where one is needed."""
    types, units, pack = types or {}, units or {}, pack or {}
    size = len(data["pressure_hpa"])
    with netCDF4.Dataset(path, "w", format=format) as file:
        file.Conventions = "CF-1.8"
        file.comment = "invented"
        file.createDimension("obs", None if storage.pop("unlimited", True) else size)
        names = {}
        back = {"Pa": 100.0, "K": None, "1": 0.01, "km": 0.001, "ft": 1 / 0.3048, "knots": 3600 / 1852}
        own = {
            "pressure_hpa": "hPa", "height_gpm": "m", "altitude_m": "m", "temperature_c": "degC",
            "humidity_pct": "%", "dewpoint_c": "degC", "wind_dir_deg": "degree",
            "wind_speed_ms": "m s-1", "latitude_deg": "degrees_north",
            "longitude_deg": "degrees_east", "time_s": "seconds since 2031-01-15 11:23:40",
        }
        for n, (column, values) in enumerate(data.items()):
            kind = types.get(column, types.get("", "f8" if column == "time_s" else "f4"))
            scale, offset = pack.get(column, (None, None))
            unit = units.get(column, own[column])
            stored = values
            if column != "time_s" and unit in back:
                stored = values + 273.15 if unit == "K" else values * back[unit]
            if column == "time_s" and unit.startswith("days"):
                stored = values / 86400 + 47496.0
            if column == "time_s" and unit.startswith("minutes"):
                stored = values / 60
            fill = None
            if kind[0] in "iu":
                fill = np.iinfo(kind).min + 3 if kind[0] == "i" else np.iinfo(kind).max - 3
            options = dict(storage) if format in ("NETCDF4", "NETCDF4_CLASSIC") else {}
            variable = file.createVariable(f"v{n}", kind, ("obs",), fill_value=fill, **options)
            variable.set_auto_maskandscale(False)
            names[column] = f"v{n}"
            variable.standard_name = NAMES[column]
            variable.units = unit
            if scale is not None:
                variable.scale_factor, variable.add_offset = scale, offset
                stored = (stored - float(offset)) / float(scale)
            if kind[0] in "iu":
                stored = np.where(np.isnan(stored), fill, np.round(stored))
            if kind == "f4" and n % 2:
                variable.missing_value = np.array([-9999.0, -8888.0], "f4")
                stored = np.where(np.isnan(stored), -9999.0, stored)
            variable[:] = stored.astype(kind)
    return names


def every_kind():
    """The samples in every format and layout that a profile may come in."""
    for name in ("winter_jet", "gaps", "plateau"):
        data = sample(name, 800)
        packed = {"types": {"pressure_hpa": "i4", "temperature_c": "i2", "dewpoint_c": "i2", "humidity_pct": "u1", "wind_dir_deg": "u2", "wind_speed_ms": "i2"},
                  "pack": {"pressure_hpa": (0.01, 0.0), "temperature_c": (np.float32(0.01), np.float32(-20.0)), "dewpoint_c": (np.float32(0.1), np.float32(0.0)), "humidity_pct": (0.5, 0.0), "wind_dir_deg": (0.1, 0.0), "wind_speed_ms": (0.05, 10.0)}}
        si = {"pressure_hpa": "Pa", "temperature_c": "K", "humidity_pct": "1"}
        odd = {"height_gpm": "km", "altitude_m": "ft", "wind_speed_ms": "knots", "time_s": "days since 1900-01-01"}
        whole = {"types": {c: "i8" if c == "time_s" else "i4" for c in data if c not in ("humidity_pct", "latitude_deg", "longitude_deg")}}
        for kind, format, options in [
            ("deflate", "NETCDF4", dict(zlib=True, complevel=6)),
            ("shuffle", "NETCDF4", dict(zlib=True, shuffle=True, fletcher32=True, chunksizes=(97,))),
            ("fixed", "NETCDF4", dict(unlimited=False)),
            ("big-endian", "NETCDF4", dict(types={"": ">f4", "time_s": ">f8"}, endian="big", zlib=True)),
            ("packed", "NETCDF4", dict(zlib=True, **packed)),
            ("si", "NETCDF4", dict(units=si, types={"": "f8"}, zlib=True)),
            ("odd", "NETCDF4", dict(units=odd, types={"": "f8"})),
            ("whole", "NETCDF4", whole),
            ("classic-model", "NETCDF4_CLASSIC", dict(zlib=True, units=si)),
            ("cdf1", "NETCDF3_CLASSIC", {}),
            ("cdf1-fixed", "NETCDF3_CLASSIC", dict(unlimited=False, units=si)),
            ("cdf2", "NETCDF3_64BIT_OFFSET", dict(units=odd)),
            ("cdf5", "NETCDF3_64BIT_DATA", packed),
        ]:
            path = FILES / f"{name}.{kind}.nc"
            names = write(path, data, format, **options)
            held_columns(f"{name} {kind}", path, names)


def every_type():
    """Fill values, default fill values and _Unsigned of every type of number."""
    for kind in ("i1", "u1", "i2", "u2", "i4", "u4", "i8", "u8", "f4", "f8"):
        for form in ("named", "default", "turned"):
            path = FILES / f"type.{kind}.{form}.nc"
            with netCDF4.Dataset(path, "w") as file:
                file.createDimension("obs", 6)
                fill = None
                if form == "named":
                    fill = np.array(-5 if kind[0] != "u" else 250).astype(kind)
                for column, unit in (("pressure_hpa", "hPa"), ("wind_dir_deg", "degree")):
                    variable = file.createVariable(NAMES[column], kind, ("obs",), fill_value=fill)
                    variable.set_auto_maskandscale(False)
                    variable.standard_name, variable.units = NAMES[column], unit
                    if form == "turned":
                        variable._Unsigned = "true"
                    values = np.array([100, 90, 80, 70, 60, 50]).astype(kind)
                    if fill is not None:
                        values[2] = fill
                    elif kind in DEFAULTS:
                        values[3] = DEFAULTS[kind]
                    if form == "turned" and kind == "i1":
                        values[4] = -56
                    if kind[0] == "f":
                        values[1] = np.nan
                    variable[:] = values
            held_columns(f"type {kind} {form}", path, {c: NAMES[c] for c in ("pressure_hpa", "wind_dir_deg")})


def several():
    """Profiles in two dimensions and in ragged arrays."""
    path = FILES / "profiles.nc"
    with netCDF4.Dataset(path, "w") as file:
        file.featureType = "profile"
        file.createDimension("profile", None)
        file.createDimension("z", 40)
        time = file.createVariable("time", "f8", ("profile",))
        time.standard_name, time.units = "time", "hours since 2031-01-15"
        time[:] = [0, 6, 12]
        for n, (column, unit) in enumerate((("pressure_hpa", "hPa"), ("temperature_c", "K"), ("wind_dir_deg", "degree"))):
            variable = file.createVariable(f"v{n}", "f4", ("profile", "z"), zlib=True, chunksizes=(2, 16))
            variable.standard_name, variable.units = NAMES[column], unit
            variable[:] = 300 - 2.3 * np.arange(40)[None, :] + np.arange(3)[:, None]
    names = {"pressure_hpa": "v0", "temperature_c": "v1", "wind_dir_deg": "v2"}
    for number in (1, 2, 3):
        said = held_columns(f"profile {number}", path, names, number, rows=(number - 1, slice(None)))
        hold(f"profile {number}: start", said["start"] == f"2031-01-15T{6 * (number - 1):02}:00:00", said["start"])
    refused = ours(path).get("error", "")
    hold("profiles: one is to be named", "there are 3 profiles" in refused and "1 to 3" in refused, refused)
    path = FILES / "ragged.nc"
    with netCDF4.Dataset(path, "w", format="NETCDF3_CLASSIC") as file:
        file.featureType = "profile"
        file.createDimension("profile", 3)
        file.createDimension("obs", None)
        count = file.createVariable("count", "i4", ("profile",))
        count.sample_dimension = "obs"
        count[:] = [5, 0, 7]
        for n, (column, unit) in enumerate((("pressure_hpa", "hPa"), ("humidity_pct", "%"))):
            variable = file.createVariable(f"v{n}", "f4", ("obs",))
            variable.standard_name, variable.units = NAMES[column], unit
            variable[:] = np.linspace(90, 10, 12)
    names = {"pressure_hpa": "v0", "humidity_pct": "v1"}
    held_columns("ragged 1", path, names, 1, rows=slice(0, 5))
    held_columns("ragged 3", path, names, 3, rows=slice(5, 12))
    hold("ragged 2: empty", "no row to read" in ours(path, 2).get("error", ""), ours(path, 2))


def refused():
    """What is no NetCDF profile: a clean word, never more."""
    path = FILES / "no-profile.h5"
    with h5py.File(path, "w") as file:
        file["table"] = np.arange(12).reshape(3, 4)
        file.create_group("inside")["deep"] = np.arange(3.0)
        file["words"] = np.array([b"a", b"bc"], dtype="S2")
    hold("HDF5 that is no NetCDF", "error" in ours(path), ours(path))
    path = FILES / "compound.h5"
    with h5py.File(path, "w") as file:
        file["rows"] = np.zeros(4, dtype=[("p", "f4"), ("t", "f8")])
    hold("compound rows", "error" in ours(path), ours(path))
    path = FILES / "groups.nc"
    with netCDF4.Dataset(path, "w") as file:
        group = file.createGroup("flight")
        group.createDimension("obs", 3)
        group.createVariable("pressure_hpa", "f4", ("obs",))[:] = [3, 2, 1]
    hold("values in a group", "root group" in ours(path).get("error", ""), ours(path))
    path = FILES / "strings.nc"
    with netCDF4.Dataset(path, "w") as file:
        file.createDimension("obs", 2)
        for name, unit in (("air_pressure", "hPa"), ("air_temperature", "degC")):
            variable = file.createVariable(name, "f8" if name == "air_temperature" else str, ("obs",))
            # Attributes of the type string, too.
            variable.setncattr_string("standard_name", name)
            variable.setncattr_string("units", unit)
            variable[:] = np.array([2.0, 1.0]) if name == "air_temperature" else np.array(["a", "b"], object)
    hold("strings", "`air_pressure` holds text" in ours(path).get("error", ""), ours(path))


def cut_off():
    """Files that end too early, and some octets turned: an error or the same rows."""
    for name in ("winter_jet.shuffle.nc", "winter_jet.fixed.nc", "profiles.nc", "type.f4.named.nc"):
        whole = (FILES / name).read_bytes()
        number = 1 if name == "profiles.nc" else 0
        rows = ours(FILES / name, number)["rows"]
        part = FILES / "part.nc"
        for end in list(range(0, len(whole), max(64, len(whole) // 150))) + [len(whole) - 1]:
            part.write_bytes(whole[:end])
            said = ours(part, number)
            hold(f"{name} cut at {end}", "error" in said or said["rows"] == rows, said.get("error"))
        turned = np.random.default_rng(20260214)
        for _ in range(150):
            octets = bytearray(whole)
            at = int(turned.integers(len(octets)))
            octets[at] ^= int(turned.integers(1, 256))
            part.write_bytes(octets)
            # A value may be another; the program must say something of sense.
            said = ours(part, number)
            hold(f"{name} turned at {at}", "error" in said or len(said["columns"]) > 0)
        part.unlink()


def copy(path, to):
    """The same file as NetCDF-4."""
    with netCDF4.Dataset(path) as old, netCDF4.Dataset(to, "w", format="NETCDF4") as new:
        old.set_auto_maskandscale(False)
        new.setncatts({a: old.getncattr(a) for a in old.ncattrs()})
        for name, dimension in old.dimensions.items():
            new.createDimension(name, None if dimension.isunlimited() else len(dimension))
        for name, variable in old.variables.items():
            attributes = {a: variable.getncattr(a) for a in variable.ncattrs()}
            fill = attributes.pop("_FillValue", None)
            made = new.createVariable(name, variable.dtype, variable.dimensions, fill_value=fill, zlib=bool(variable.dimensions))
            made.set_auto_maskandscale(False)
            made.setncatts(attributes)
            made[...] = variable[...]


def coded(path, columns, flight):
    words = [FIVEFIG, "encode", str(path), "--sheet", str(columns), "--sheet", str(flight), "-q"]
    text = subprocess.run(words, capture_output=True, text=True)
    if text.returncode and "PILOT" in text.stderr:
        text = subprocess.run([*words, "--form", "pilot"], capture_output=True, text=True)
    return text


def real(folder):
    """Real files: values, and the message of the file and of its copy."""
    files = sorted(p for p in pathlib.Path(folder).iterdir() if p.suffix in (".cdf", ".nc"))
    hold("real files are there", files, folder)
    # Names of files that have no standard names.
    called = {
        "pressure_hpa": "pres", "temperature_c": "tdry", "dewpoint_c": "dp", "humidity_pct": "rh",
        "wind_dir_deg": "deg", "wind_speed_ms": "wspd", "wind_u_ms": "u_wind", "wind_v_ms": "v_wind",
        "altitude_m": "alt", "latitude_deg": "lat", "longitude_deg": "lon", "time_s": "time",
    }
    flight = FILES / "flight.toml"
    # What these files call altitude is geopotential.
    kind = '[profile]\nheight_kind = "geopotential"\n'
    flight.write_text(f"[station]\nwmo_block = 99\nwmo_number = 7\n{kind}")
    for path in files:
        columns = FILES / f"{path.stem}.toml"
        with netCDF4.Dataset(path) as file:
            lines = ["[columns]"]
            for ours_, name in called.items():
                if ours_ != "time_s" and "standard_name" not in file.variables[name].ncattrs():
                    unit = ', unit = "m"' if ours_ == "altitude_m" else ""
                    lines.append(f'{ours_} = {{ column = "{name}"{unit} }}')
        columns.write_text("\n".join(lines) + "\n")
        again = FILES / f"{path.stem}.nc"
        copy(path, again)
        first = held_columns(path.name, path, called, sheet=columns)
        second = held_columns(f"{path.name} as NetCDF-4", again, called, sheet=columns)
        if first and second:
            hold(f"{path.name}: the same rows in both", first["rows"] == second["rows"])
            hold(f"{path.name}: the same sheet", first["sheet"] == second["sheet"])
        one, two = coded(path, columns, flight), coded(again, columns, flight)
        hold(f"{path.name}: coded", one.returncode == 0 and one.stdout.count("\n") > 4, one.stderr)
        hold(f"{path.name}: the same message", one.stdout == two.stdout)
    print(f"NetCDF: {len(files)} real files")


def written():
    """Files that we write: read by xarray value by value, and held to the CF conventions."""
    rows = 0
    for name, form in [
        ("winter_jet", "temp"),
        ("windless", "temp"),
        ("minute", "temp"),
        ("ship", "temp"),
        ("drop", "temp"),
        ("theodolite", "pilot"),
    ]:
        path = FILES / f"written-{name}.nc"
        sheet = f"samples/{name}.toml"
        words = [FIVEFIG, "encode", f"samples/{name}.csv", "--sheet", sheet, "--form", form, "-q"]
        made = subprocess.run([*words, "--to", "netcdf", "-o", str(path)], capture_output=True, text=True)
        hold(f"{name}: written", made.returncode == 0, made.stderr)
        document = subprocess.run([*words, "--to", "json", "--levels", "all"], capture_output=True, text=True)
        levels = json.loads(document.stdout)["reports"][0]["levels"]
        # Levels between rows are in the report alone.
        levels = [level for level in levels if "row" in str(level["at"])]
        with xarray.open_dataset(path, decode_times=False) as data:
            hold(f"{name}: rows", data.sizes["level"] == len(levels), f"{data.sizes} {len(levels)}")
            rows += data.sizes["level"]
            for column, name_ in [
                ("pressure_hpa", "air_pressure"),
                ("height_gpm", "geopotential_height"),
                ("temperature_c", "air_temperature"),
            ]:
                ours = np.array([np.nan if l[column] is None else l[column] for l in levels], float)
                theirs = data[name_].values
                if name == "drop":
                    theirs = theirs[::-1]
                hold(f"{name}: {name_}", np.array_equal(ours, theirs, equal_nan=True))
        with xarray.open_dataset(path) as data:
            hold(f"{name}: times", np.issubdtype(data["time"].dtype, np.datetime64))
        checker = pathlib.Path(sys.executable).with_name("compliance-checker")
        report = subprocess.run([checker, "--test=cf:1.11", "--criteria=strict", str(path)], capture_output=True, text=True)
        hold(f"{name}: CF 1.11", report.returncode == 0, report.stdout[-2000:])
    print(f"NetCDF: {rows} rows written, read by xarray {xarray.__version__} and held to CF 1.11")


def seeds():
    """Small files for fuzzing."""
    shutil.rmtree(SEEDS, ignore_errors=True)
    SEEDS.mkdir(parents=True)
    data = {c: v[:40] for c, v in sample("winter_jet", 40).items()}
    for kind, format, options in [
        ("deflate", "NETCDF4", dict(zlib=True, shuffle=True, fletcher32=True)),
        ("fixed", "NETCDF4", dict(unlimited=False)),
        ("cdf1", "NETCDF3_CLASSIC", {}),
        ("cdf2", "NETCDF3_64BIT_OFFSET", dict(unlimited=False)),
        ("cdf5", "NETCDF3_64BIT_DATA", {}),
    ]:
        write(SEEDS / f"{kind}.nc", data, format, **options)
    for name in ("ragged.nc", "profiles.nc", "groups.nc", "strings.nc", "compound.h5", "no-profile.h5", "type.f4.named.nc", "type.i1.turned.nc"):
        shutil.copy(FILES / name, SEEDS / name)


shutil.rmtree(FILES, ignore_errors=True)
FILES.mkdir(parents=True)
every_kind()
every_type()
several()
refused()
cut_off()
written()
seeds()
if os.environ.get("FIVEFIG_NETCDF"):
    real(os.environ["FIVEFIG_NETCDF"])
else:
    print("NetCDF: no folder of real files")
print(
    f"NetCDF against netCDF4-python {netCDF4.__version__}: {values_held} values, {missing_held} missing,"
    f" {times_held} times; {passed} checks passed, {failed} failed"
)
sys.exit(failed > 0)
