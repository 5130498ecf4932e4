"""Pictures and pages that show themselves in a notebook."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import os


class Drawing:
    """A diagram as SVG, which shows itself in a notebook.

    Attributes
    ----------
    svg : str
        The picture, SVG 1.1.
    """

    def __init__(self, svg: str) -> None:
        self.svg = svg

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the picture to a file, UTF-8."""
        with open(path, "w", encoding="utf-8") as file:
            file.write(self.svg)

    def _repr_svg_(self) -> str:
        return self.svg

    def __str__(self) -> str:
        return self.svg

    def __repr__(self) -> str:
        return f"<fivefig.Drawing: SVG of {len(self.svg)} characters>"


def framed(page: str) -> str:
    """A page in a frame of its own, so that its style does not touch the notebook's."""
    import html

    text = html.escape(page, quote=True)
    style = "width:100%;height:80vh;border:1px solid #8888"
    return f'<iframe sandbox="allow-scripts" title="review" style="{style}" srcdoc="{text}"></iframe>'
