"""The functions of fivefig."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from . import _input, _native
from ._errors import FivefigError
from ._native import Difference, Finding, Report, Table

if TYPE_CHECKING:
    import numpy.typing as npt

Form = Literal["temp", "pilot", "descent"]
TableName = Literal["levels", "reports", "findings", "summary"]


def encode(
    source: Any,
    sheet: Any = None,
    *,
    form: Form | None = None,
    columns: Any = None,
    early: bool = False,
    flight: int | None = None,
    name: str | None = None,
) -> Report:
    """Code a profile: choose the levels and make the report.

    Parameters
    ----------
    source
        The processed ascent, one row per moment: a path, bytes or open file of anything
        the command reads (delimited text, NetCDF, BUFR, IGRA, JSON Lines); a pandas or
        polars ``DataFrame``; a dict of arrays; an xarray ``Dataset``; anything with the
        Arrow PyCapsule interface. Columns have our names, which give their unit
        (``pressure_hpa``, ``temperature_c`` …, see :data:`COLUMNS`), or CF standard names
        with their units. Units of pint are converted. NaN, null and masked values are
        missing.
    sheet
        Station and flight: a dict, TOML or JSON text, or the path of a TOML file; a list of
        these, of which the later have the last word.
    form
        ``temp``, ``pilot`` or ``descent``; by default that of the message that was read,
        or ``temp``.
    columns
        Which column is which: our name to the name of the column, or to (name, unit).
    early
        Whether to make the early report, up to 100 hPa.
    flight
        Number of the flight, from 1, in a file that has several.
    name
        Name in findings and errors.

    Returns
    -------
    Report

    Raises
    ------
    ProfileError
        The source is not a profile; ``findings`` names each row.
    SheetError
        The sheet lacks a value or has one outside its range; ``findings`` names each key.
    FormError
        The form cannot hold this flight.

    Examples
    --------
    >>> report = fivefig.encode("winter_jet.csv", "winter_jet.toml")
    >>> print(report.text)
    """
    given = _input.source(source, columns, name)
    return _native.encode(given, _input.sheets(sheet, columns), form, early, flight)


def encode_many(
    flights: Any,
    sheet: Any = None,
    *,
    form: Form | None = None,
    columns: Any = None,
    threads: int | None = None,
    errors: Literal["raise", "return"] = "raise",
) -> Iterator[Report | FivefigError]:
    """Code flights in parallel; the reports come in the order of the flights.

    A few flights for each thread are in memory at a time.

    Parameters
    ----------
    flights
        An iterable of profiles as for :func:`encode`, or of pairs (profile, sheet); or an
        Arrow table of flights, one per row: ``id``, ``sheet`` (TOML or JSON) and for each
        column a list of numbers.
    sheet
        A sheet for all flights, which has the last word.
    threads
        Number of threads; by default the number of processors.
    errors
        ``raise``: the first flight that is refused ends the work; ``return``: its
        exception is given in its place.
    """
    workers = _native.Workers(threads)
    given = _input.flights(flights, sheet, columns)
    while chunk := list(islice(given, 4 * workers.threads)):
        sources, sheets = [one for one, _ in chunk], [texts for _, texts in chunk]
        for result in workers.encode(sources, sheets, form):
            if errors == "raise" and isinstance(result, FivefigError):
                raise result
            yield result


def encode_table(
    flights: Any,
    sheet: Any = None,
    *,
    form: Form | None = None,
    columns: Any = None,
    threads: int | None = None,
    bufr: bool = False,
) -> Table:
    """Code flights in parallel into a table of reports, one row per flight.

    A flight that is refused is a row with ``error``, ``error_kind`` and ``error_place``.
    This is the step of an engine such as Spark. The parameters are those of
    :func:`encode_many`; with ``bufr`` the column of that name has the BUFR messages.

    Returns
    -------
    Table
        The table ``reports``.
    """
    workers = _native.Workers(threads)
    given = _input.flights(flights, sheet, columns)
    tables: list[Table] = []
    first = 1
    while chunk := list(islice(given, 64 * workers.threads)):
        sources, sheets = [one for one, _ in chunk], [texts for _, texts in chunk]
        tables.append(workers.table(sources, sheets, form, bufr, first))
        first += len(chunk)
    return _native.Table.concat(tables) if tables else schema("reports")


def decode(
    source: Any,
    *,
    date: str | None = None,
    strict_parts: bool = False,
    name: str | None = None,
) -> list[Report]:
    """Read messages: one report for each station and time.

    Parameters
    ----------
    source
        Text of messages or bulletins, bytes (text, BUFR, JSON, or a file of messages
        with their lengths), an open file, a path, a folder, or a list of these. A ``str``
        without a blank is a path, since no message is a single word.
    date
        Year and month of text, ``2031-01``, or a date near it, ``2031-01-15``.
    strict_parts
        Whether damaged parts are left out; by default they are read as far as they are
        sound, with findings.

    Raises
    ------
    MessageError
        There is no report in it.
    """
    reports, _ = _native.decode(_input.messages(source, name), date, strict_parts)
    return reports


def decode_table(
    source: Any,
    table: TableName = "levels",
    *,
    date: str | None = None,
    strict_parts: bool = False,
    name: str | None = None,
) -> Table:
    """Read messages into one table.

    Parameters
    ----------
    source, date, strict_parts
        As for :func:`decode`.
    table
        ``levels``: every level of every report; ``reports``: one row per report;
        ``findings``: everything that reading and checking found; ``summary``: counts of
        parts by station and time.
    """
    return _native.decode_table(_input.messages(source, name), table, date, strict_parts)


def check(
    source: Any,
    sheet: Any = None,
    *,
    form: Form | None = None,
    columns: Any = None,
    date: str | None = None,
    strict_parts: bool = False,
    flight: int | None = None,
    name: str | None = None,
) -> list[Finding]:
    """Check a report, messages, or a profile.

    Messages are checked for internal consistency. With a sheet, or where the source is a
    table, it is a profile, which is checked for physical consistency and against its
    sheet.
    """
    if isinstance(source, Report):
        return source.check()
    is_table = not isinstance(source, (str, bytes, bytearray, memoryview, list, tuple)) and (
        not hasattr(source, "__fspath__") and not hasattr(source, "read")
    )
    if sheet is None and not is_table:
        return _native.check_messages(_input.messages(source, name), date, strict_parts)
    given = _input.source(source, columns, name)
    return _native.check_profile(given, _input.sheets(sheet, columns), form, flight)


def compare(
    left: Any, right: Any, *, tolerance: Literal["rounding", "step"] = "rounding"
) -> list[Difference]:
    """What differs between two reports.

    Parameters
    ----------
    left, right
        A :class:`Report`, or messages with one report as for :func:`decode`.
    tolerance
        ``rounding``: values that are equal but for rounding do not differ; ``step``:
        values within one step of the code do not.
    """
    return _native.compare(_one(left), _one(right), tolerance)


def _one(value: Any) -> Report:
    if isinstance(value, Report):
        return value
    reports = decode(value)
    if len(reports) != 1:
        from ._errors import InvalidValueError

        raise InvalidValueError(
            f"there are {len(reports)} reports; give one, such as decode(...)[0]",
            kind="invalid-value",
        )
    return reports[0]


def choose_levels(
    source: Any,
    sheet: Any = None,
    *,
    form: Form | None = None,
    columns: Any = None,
    flight: int | None = None,
    name: str | None = None,
) -> Table:
    """Choose the standard and significant levels of a profile.

    A sheet is not needed; where it is given, its practice of the Region, its orders and
    its surface observation count.

    Returns
    -------
    Table
        The table ``levels``: values, significance, reasons, and the number of the row.
    """
    given = _input.source(source, columns, name)
    return _native.choose_levels(given, _input.sheets(sheet, columns), form, flight)


class Tropopause(NamedTuple):
    """A tropopause level."""

    #: Number of the element of the arrays, from 0.
    position: int
    #: Pressure, hPa.
    pressure_hpa: float
    #: Geopotential height, gpm.
    height_gpm: float
    #: Temperature, °C.
    temperature_c: float


def tropopause(
    pressure_hpa: npt.ArrayLike, height_gpm: npt.ArrayLike, temperature_c: npt.ArrayLike
) -> list[Tropopause]:
    """The tropopauses of a profile, lowest first (WMO-No. 306, 35.2.3.1).

    Parameters
    ----------
    pressure_hpa, height_gpm, temperature_c
        Arrays of one length, lowest level first: pressure (hPa), geopotential height
        (gpm), temperature (°C). NaN is missing; each level needs a pressure.

    Returns
    -------
    list of Tropopause
        Empty where there is none.
    """
    import numpy as np

    arrays = [np.asarray(a, dtype="<f8") for a in (pressure_hpa, height_gpm, temperature_c)]
    _same_length(arrays, ("pressure_hpa", "height_gpm", "temperature_c"))
    p, z, t = arrays
    found = _native.tropopause(p.tobytes(), z.tobytes(), t.tobytes())
    return [Tropopause(at, float(p[at]), float(z[at]), float(t[at])) for at in found]


def dewpoint(temperature_c: npt.ArrayLike, humidity_pct: npt.ArrayLike) -> npt.NDArray[Any]:
    """Dew point over water (°C) from temperature (°C) and humidity over water (%).

    The shape is that of the arrays; NaN where humidity is 0 or a value is missing.
    """
    import numpy as np

    t, u = np.broadcast_arrays(
        np.asarray(temperature_c, dtype="<f8"), np.asarray(humidity_pct, dtype="<f8")
    )
    out = np.frombuffer(_native.dewpoint(t.tobytes(), u.tobytes()), dtype="<f8")
    return out.reshape(t.shape).copy()


def thickness(
    pressure_hpa: npt.ArrayLike,
    temperature_c: npt.ArrayLike,
    dewpoint_c: npt.ArrayLike | None = None,
) -> float:
    """Thickness (gpm) between the first and the last level of a profile.

    Parameters
    ----------
    pressure_hpa, temperature_c, dewpoint_c
        Arrays of one length, lowest level first: pressure (hPa), temperature (°C), and
        dew point over water (°C), without which the air is dry.
    """
    import numpy as np

    arrays = [np.asarray(a, dtype="<f8") for a in (pressure_hpa, temperature_c)]
    names = ["pressure_hpa", "temperature_c"]
    if dewpoint_c is not None:
        arrays.append(np.asarray(dewpoint_c, dtype="<f8"))
        names.append("dewpoint_c")
    _same_length(arrays, names)
    dew = arrays[2].tobytes() if dewpoint_c is not None else b""
    return _native.thickness(arrays[0].tobytes(), arrays[1].tobytes(), dew)


def _same_length(arrays: list[Any], names: Any) -> None:
    shapes = {array.shape for array in arrays}
    if len(shapes) != 1 or arrays[0].ndim != 1:
        from ._errors import InvalidValueError

        said = ", ".join(f"{n} {a.shape}" for n, a in zip(names, arrays))
        raise InvalidValueError(
            f"arrays of one dimension and one length are expected, not {said}",
            kind="invalid-value",
        )


def interpolate(
    source: Any,
    pressures_hpa: npt.ArrayLike,
    sheet: Any = None,
    *,
    columns: Any = None,
    flight: int | None = None,
    name: str | None = None,
) -> Table:
    """The values of a profile at pressures (hPa), linear in the logarithm of pressure.

    Nothing is interpolated across a layer without data or outside of the profile: those
    values are missing.

    Returns
    -------
    Table
        The table ``levels``, one row for each pressure in the order given.
    """
    import numpy as np

    given = _input.source(source, columns, name)
    wanted = [float(p) for p in np.atleast_1d(np.asarray(pressures_hpa, dtype="f8"))]
    return _native.interpolate(given, _input.sheets(sheet, columns), flight, wanted)


def schema(table: TableName) -> Table:
    """A table without rows: its schema, for engines that ask for one."""
    return _native.Table.empty(table)
