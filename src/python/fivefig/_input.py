"""What users give, as input of the native module."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from . import _native
from ._errors import InvalidValueError, ProfileError, SheetError

_UNITS = {name: unit for name, unit, _ in _native.COLUMNS}
_CF = {cf: name for name, _, names in _native.COLUMNS for cf in names}
# Our units in the spelling of pint.
_PINT = {
    "s": "second",
    "hPa": "hectopascal",
    "gpm": "meter",
    "m": "meter",
    "°C": "degree_Celsius",
    "%": "dimensionless",
    "m/s": "meter / second",
}


def sheets(sheet: Any, columns: Any = None) -> list[tuple[str, str]]:
    """Sheets as names and TOML texts; later ones have the last word."""
    given = list(sheet) if isinstance(sheet, (list, tuple)) else [sheet]
    out = [_sheet(one, number) for number, one in enumerate(given, 1) if one is not None]
    if columns is not None:
        out.append(("columns", _toml("columns", {"columns": _mapping(columns)})))
    return out


def _sheet(sheet: Any, number: int) -> tuple[str, str]:
    name = "sheet" if number == 1 else f"sheet {number}"
    if isinstance(sheet, Mapping):
        return name, _toml(name, sheet)
    if isinstance(sheet, str) and sheet.lstrip().startswith("{"):
        return name, _native.sheet_to_toml(sheet)
    if isinstance(sheet, str) and ("\n" in sheet or "=" in sheet):
        return name, sheet
    if isinstance(sheet, (str, os.PathLike)):
        path = os.fspath(sheet)
        try:
            with open(path, encoding="utf-8") as file:
                return path, file.read()
        except (OSError, UnicodeDecodeError) as error:
            why = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
            raise SheetError(
                f"{path}: {why}; a sheet is a dict, TOML or JSON text, or the path of a TOML file",
                kind="context",
                place={"file": path},
            ) from None
    raise TypeError(
        f"a sheet is a dict, TOML or JSON text, or a path, not {type(sheet).__name__}"
    )


def _toml(name: str, sheet: Mapping[str, Any]) -> str:
    import json

    try:
        text = json.dumps(sheet, default=_plain)
    except (TypeError, ValueError) as error:
        raise SheetError(f"{name}: {error}", kind="context") from None
    return _native.sheet_to_toml(text)


def _plain(value: Any) -> Any:
    """A value of a sheet that JSON does not have."""
    from datetime import date, datetime, time, timezone

    if isinstance(value, datetime):
        if value.tzinfo is not None:
            value = value.astimezone(timezone.utc).replace(tzinfo=None)
        return value.isoformat() + "Z"
    if isinstance(value, (date, time)):
        return value.isoformat()
    if hasattr(value, "isoformat") and hasattr(value, "to_pydatetime"):
        return _plain(value.to_pydatetime())
    if hasattr(value, "item"):
        return value.item()
    raise TypeError(f"a sheet has no value of type {type(value).__name__}")


def _mapping(columns: Any) -> dict[str, Any]:
    """Our name → column, or column and unit, as `[columns]` of a sheet."""
    if not isinstance(columns, Mapping):
        raise TypeError("columns is a dict: our name to the name of the column, or to (name, unit)")
    out: dict[str, Any] = {}
    for ours, source in columns.items():
        if isinstance(source, str):
            out[ours] = {"column": source}
        elif isinstance(source, (tuple, list)) and len(source) == 2:
            out[ours] = {"column": source[0], "unit": source[1]}
        elif isinstance(source, Mapping):
            out[ours] = dict(source)
        else:
            raise InvalidValueError(
                f"columns: {ours!r} is {source!r}; the name of a column or (name, unit) is expected",
                kind="invalid-value",
            )
    return out


def source(value: Any, columns: Any = None, name: str | None = None) -> _native.Source:
    """A profile: path, bytes, open file, or a table of any kind."""
    if isinstance(value, _native.Source):
        return value
    if isinstance(value, (str, os.PathLike)):
        return _path(value)
    content = _content(value)
    if content is not None:
        return _native.Source.of_bytes(name or "bytes", content)
    kind = _kind(value)
    if kind == "pandas":
        table = _pandas(value, columns)
        return _columns(table, columns, name) if table is not None else _arrow(value, name)
    if kind == "xarray":
        return _columns(_xarray(value), columns, name)
    if hasattr(value, "__arrow_c_stream__") or hasattr(value, "__arrow_c_array__"):
        return _arrow(value, name)
    if isinstance(value, Mapping):
        return _columns([(str(key), v, {}) for key, v in value.items()], columns, name)
    raise TypeError(
        "a profile is a path, bytes, an open file, a pandas or polars DataFrame, a dict of "
        f"arrays, an xarray Dataset or an Arrow table, not {type(value).__name__}"
    )


def messages(value: Any, name: str | None = None) -> list[_native.Source]:
    """Messages: text, bytes, open file, a path, or several of these."""
    if isinstance(value, str):
        # No message is a single word: it has letters, time and station at least.
        if len(value.split(maxsplit=1)) == 1:
            return [_path(value.strip())]
        return [_native.Source.of_bytes(name or "text", value.encode())]
    if isinstance(value, os.PathLike):
        return [_path(value)]
    content = _content(value)
    if content is not None:
        return [_native.Source.of_bytes(name or "bytes", content)]
    if isinstance(value, Iterable) and not isinstance(value, Mapping):
        return [one for item in value for one in messages(item, name)]
    raise TypeError(
        f"messages are text, bytes, an open file or a path, not {type(value).__name__}"
    )


def _path(value: Any) -> _native.Source:
    path = os.fspath(value)
    if not os.path.exists(path):
        raise FileNotFoundError(2, "there is no such file", path)
    return _native.Source.of_path(path)


def _content(value: Any) -> bytes | None:
    """The bytes of bytes or of an open file; `None`: it is something else."""
    if isinstance(value, bytes):
        return value
    if isinstance(value, (bytearray, memoryview)):
        return bytes(value)
    if hasattr(value, "read") and callable(value.read):
        try:
            content = value.read()
        except ValueError as error:
            name = getattr(value, "name", "the file")
            raise InvalidValueError(
                f"{name}: {error}; give an open file, or its path",
                kind="invalid-value",
                place={"file": str(name)},
            ) from None
        return content.encode() if isinstance(content, str) else bytes(content)
    return None


def _kind(value: Any) -> str:
    """The library that a value is from, for those that are imported."""
    for library, cls in (("pandas", "DataFrame"), ("xarray", "Dataset")):
        module = sys.modules.get(library)
        if module is not None and isinstance(value, getattr(module, cls)):
            return library
    return ""


def _arrow(value: Any, name: str | None) -> _native.Source:
    return _native.Source.of_arrow(name or "table", value)


def _ours(name: str, attrs: Mapping[str, Any], columns: Any) -> str | None:
    """Our name for a column; `None`: it is not used."""
    for ours, given in _mapping(columns or {}).items():
        if given.get("column") == name:
            return str(ours)
    if "standard_name" in attrs:
        return _CF.get(str(attrs["standard_name"]))
    lower = name.strip().lower()
    if lower in _UNITS or lower == "station_flags":
        return lower
    return _CF.get(name.strip())


def _pandas(frame: Any, columns: Any) -> list[tuple[str, Any, dict[str, Any]]] | None:
    """The columns of a frame, and its index where that is one of ours; `None`: the frame
    passes through Arrow as it is."""
    name = None if frame.index.name is None else str(frame.index.name)
    index: list[tuple[str, Any, dict[str, Any]]] = []
    if name is not None and _ours(name, {}, columns):
        index.append((name, frame.index, {}))
    items: list[tuple[str, Any, dict[str, Any]]] = [(str(name), series, {}) for name, series in frame.items()]
    used = [series for name, series, _ in items if _ours(name, {}, columns)]
    plain = all(getattr(series.dtype, "kind", "O") in "fiu" for series in used)
    if plain and not index and "pyarrow" in sys.modules and hasattr(frame, "__arrow_c_stream__"):
        return None
    return index + items


def _xarray(dataset: Any) -> list[tuple[str, Any, dict[str, Any]]]:
    """The variables along the vertical dimension of a dataset."""
    squeezed = dataset.squeeze()
    variables = [(str(name), squeezed[name]) for name in squeezed.variables]
    along: dict[Any, int] = {}
    for name, variable in variables:
        if len(variable.dims) == 1 and _ours(name, variable.attrs, None):
            along[variable.dims[0]] = along.get(variable.dims[0], 0) + 1
    if not along:
        names = ", ".join(name for name, _ in variables) or "no variable"
        raise ProfileError(
            "dataset: no variable along one dimension is known; it has "
            f"{names}; name them by CF standard_name, by our names, or with columns",
            kind="file",
            place={"file": "dataset"},
        )
    dim = max(along, key=lambda one: along[one])
    wide = [
        name
        for name, variable in variables
        if len(variable.dims) > 1 and dim in variable.dims and _ours(name, variable.attrs, None)
    ]
    if wide:
        raise ProfileError(
            f"dataset: variable {wide[0]} has several dimensions; select one profile, such as "
            "with isel, before it is coded",
            kind="file",
            place={"file": "dataset"},
        )
    return [
        (name, variable, dict(variable.attrs))
        for name, variable in variables
        if variable.dims == (dim,)
    ]


def _columns(
    table: list[tuple[str, Any, dict[str, Any]]], columns: Any, name: str | None
) -> _native.Source:
    given = []
    title = name or "table"
    for column, values, attrs in table:
        ours = _ours(column, attrs, columns)
        standard, unit = attrs.get("standard_name"), attrs.get("units")
        if ours is None:
            given.append((column, standard, unit, "number", b""))
            continue
        kind, content, converted = _values(values, column, ours, title)
        unit = converted or unit
        if kind == "time":
            unit = None
        given.append((column, standard, unit, kind, content))
    return _native.Source.of_columns(title, given)


def _values(values: Any, column: str, ours: str, title: str) -> tuple[str, bytes, str | None]:
    """The kind of values, their bytes, and the unit that they were converted to."""
    import numpy as np

    def fail(what: str) -> ProfileError:
        return ProfileError(
            f"{title}: column {column}: {what}", kind="file", place={"file": title, "key": ours}
        )

    data = getattr(values, "data", values) if hasattr(values, "dims") else values
    data = getattr(data, "pint", data) if str(getattr(data, "dtype", "")).startswith("pint[") else data
    converted = None
    if hasattr(data, "magnitude") and hasattr(data, "units"):
        wanted = _UNITS.get(ours, "")
        target = _PINT.get(wanted, "degree")
        try:
            data = data.to(target).magnitude
        except Exception:
            raise fail(f"the unit {data.units} does not convert to {wanted}") from None
        if wanted == "%":
            data = np.asarray(data, dtype="f8") * 100.0
        converted = wanted
    if hasattr(data, "mask") and isinstance(data, np.ma.MaskedArray):
        numeric = data.dtype.kind in "fiu"
        data = np.ma.filled(data.astype("f8"), np.nan) if numeric else data.data
    dtype = getattr(data, "dtype", None)
    if dtype is not None and not isinstance(dtype, np.dtype) and hasattr(data, "to_numpy"):
        # Types of pandas with a missing value of their own; polars.
        try:
            data = data.to_numpy(dtype="f8", na_value=np.nan)
        except TypeError:
            data = data.to_numpy()
        except ValueError:
            raise fail(f"the type is {dtype}; numbers are expected") from None
    array = np.asarray(data)
    if array.ndim != 1:
        raise fail(f"the values have {array.ndim} dimensions; one is expected")
    if array.dtype.kind == "O" and all(v is None or isinstance(v, (int, float)) for v in array):
        array = np.asarray([np.nan if v is None else v for v in array], dtype="f8")
    if array.dtype.kind in "fiu":
        return "number", np.ascontiguousarray(array, dtype="<f8").tobytes(), converted
    if array.dtype.kind in "Mm":
        kind, type_ = ("time", "<M8[us]") if array.dtype.kind == "M" else ("duration", "<m8[us]")
        return kind, np.ascontiguousarray(array.astype(type_)).tobytes(), converted
    raise fail(
        f"the dtype is {array.dtype}; numbers are expected, such as pandas.to_numeric gives"
    )


def flights(value: Any, sheet: Any, columns: Any) -> Iterator[tuple[_native.Source, list[tuple[str, str]]]]:
    """Flights with their sheets: an Arrow table of flights, or an iterable of profiles or
    pairs (profile, sheet). The sheet of the call has the last word."""
    common = sheets(sheet, columns)
    if hasattr(value, "__arrow_c_stream__") or hasattr(value, "__arrow_c_array__"):
        table = _arrow(value, None)
        if not table.is_flights():
            raise ProfileError(
                "table: it is not a table of flights; one row per flight is expected, with id, "
                "sheet and a list of numbers for each column",
                kind="file",
                place={"file": "table"},
            )
        for flight in table.flights():
            yield flight, common
        return
    if isinstance(value, (str, bytes, os.PathLike, Mapping)):
        raise TypeError("flights are an iterable of profiles, of pairs (profile, sheet), or an Arrow table")
    for number, item in enumerate(value, 1):
        profile, own = item if isinstance(item, tuple) and len(item) == 2 else (item, None)
        yield source(profile, columns, f"flight {number}"), sheets(own) + common
