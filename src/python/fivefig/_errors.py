"""The exceptions of fivefig.

Every exception of the package is a :class:`FivefigError`. Those about a value are a
``ValueError`` as well.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ._native import Finding


class FivefigError(Exception):
    """Something was not read, coded or written.

    The text says what happened, where, and what is allowed.

    Attributes
    ----------
    kind : str
        What kind of error it is: ``context``, ``rows``, ``file``, ``form``, ``unfit``,
        ``text``, ``bufr``, ``json``, ``issue``, ``invalid-value`` or ``internal``.
    place : dict
        Where the cause is, as far as it is known: the keys ``file``, ``line``,
        ``column``, ``key``, ``pressure_hpa``, ``part``, ``section`` and ``group``.
        Rows of a table count as lines, from 1.
    findings : tuple of Finding
        The faults one by one.
    """

    kind: str
    place: dict[str, Any]
    findings: tuple[Finding, ...]

    def __init__(
        self,
        message: str = "",
        *,
        kind: str = "",
        place: Mapping[str, Any] | None = None,
        findings: Sequence[Finding] = (),
    ) -> None:
        super().__init__(message)
        self.kind = kind
        self.place = dict(place or {})
        self.findings = tuple(findings)

    def __reduce__(self) -> tuple[Any, ...]:
        # Findings stay where they were made; text, kind and place cross processes.
        return (_again, (type(self), str(self), self.kind, self.place))


def _again(
    cls: type[FivefigError], message: str, kind: str, place: Mapping[str, Any]
) -> FivefigError:
    return cls(message, kind=kind, place=place)


class InvalidValueError(FivefigError, ValueError):
    """An argument has a value that is not allowed."""


class SheetError(FivefigError, ValueError):
    """Station, flight or practice: a value is missing or outside its range."""


class ProfileError(FivefigError, ValueError):
    """The file or table is not a profile, or a row has a value outside its range."""


class FormError(FivefigError, ValueError):
    """The form cannot hold this flight, or a value does not fit its figure."""


class MessageError(FivefigError, ValueError):
    """The text, BUFR or JSON holds no report."""


class IssueError(FivefigError, ValueError):
    """No bulletin is made, because the sheet lacks a part of its heading."""


class InternalError(FivefigError, RuntimeError):
    """A fault of fivefig itself. Please report it with the input."""
