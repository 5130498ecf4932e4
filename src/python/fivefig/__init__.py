"""Radiosonde ascents as TEMP, PILOT and BUFR messages, and back.

>>> import fivefig
>>> report = fivefig.encode("winter_jet.csv", "winter_jet.toml")
>>> print(report.text)
>>> report.levels.to_pandas()

Functions take paths, bytes, and tables of pandas, polars, NumPy, xarray and Arrow. Units
are in the names: ``pressure_hpa``, ``temperature_c``, ``wind_speed_ms``. Every error is a
:class:`FivefigError` with ``place`` and ``findings``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ._api import (
    Tropopause,
    check,
    choose_levels,
    compare,
    decode,
    decode_table,
    dewpoint,
    encode,
    encode_many,
    encode_table,
    interpolate,
    schema,
    thickness,
    tropopause,
)
from ._errors import (
    FivefigError,
    FormError,
    InternalError,
    InvalidValueError,
    IssueError,
    MessageError,
    ProfileError,
    SheetError,
)
from ._native import COLUMNS, TABLE_VERSION, Difference, Finding, Report, Table, __version__
from ._view import Drawing

if TYPE_CHECKING:
    from ._dataset import to_dataset

__all__ = [
    "COLUMNS",
    "TABLE_VERSION",
    "Difference",
    "Drawing",
    "Finding",
    "FivefigError",
    "FormError",
    "InternalError",
    "InvalidValueError",
    "IssueError",
    "MessageError",
    "ProfileError",
    "Report",
    "SheetError",
    "Table",
    "Tropopause",
    "__version__",
    "check",
    "choose_levels",
    "compare",
    "decode",
    "decode_table",
    "dewpoint",
    "encode",
    "encode_many",
    "encode_table",
    "interpolate",
    "schema",
    "thickness",
    "to_dataset",
    "tropopause",
]


def __getattr__(name: str) -> Any:
    if name == "to_dataset":
        from ._dataset import to_dataset

        return to_dataset
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
