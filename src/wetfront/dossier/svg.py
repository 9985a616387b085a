"""What every drawing of the dossier is made of: coordinates, words, labels, the frame of an SVG document.

One unit of a drawing is one point on paper.
"""

from collections.abc import Sequence
from xml.sax.saxutils import escape

from wetfront.dossier.words import plain

FONT_SIZE = 8.5
FONT = "Source Sans Pro, sans-serif"
HALO = ' font-weight="600" stroke="white" stroke-width="2.5" paint-order="stroke" stroke-linejoin="round"'
"""Bold words that stay readable on a line."""


def svg_document(width: float, height: float, title: str, sentence: str, parts: Sequence[str]) -> str:
    """The whole drawing; title and sentence say the same as the picture."""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {pt(width)} {pt(height)}" '
        f'width="{pt(width)}pt" height="{pt(height)}pt" role="img" font-family="{FONT}" '
        f'font-size="{pt(FONT_SIZE)}">'
    )
    said = f"<title>{words(title)}</title><desc>{words(sentence)}</desc>"
    return "\n".join([head, said, *parts, "</svg>"]) + "\n"


def pt(value: float) -> str:
    """A coordinate with at most two decimals."""
    return f"{value:.2f}".rstrip("0").rstrip(".") if value else "0"


def words(text: str) -> str:
    """Text that cannot be taken for markup."""
    return escape(plain(text), {'"': "&quot;"})


def lettered(x: float, y: float, text: str, anchor: str = "start", extra: str = "") -> str:
    """Words at a place."""
    return f'<text x="{pt(x)}" y="{pt(y)}" text-anchor="{anchor}"{extra}>{words(text)}</text>'
