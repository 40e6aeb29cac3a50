"""How wide a text is, without loading a font.

Advance widths of DejaVu Sans in thousandths of the font size, read from the font file. It is the widest of the common
sans-serif faces, so a text set in another one stays inside the box computed here. Unknown characters count as a full
em.
"""

from __future__ import annotations

_ROWS = {
    275: "'",
    278: "ijl",
    295: "IJ",
    318: " ,.·",
    337: "/:;\\|",
    352: "f",
    361: "-",
    390: "()[]",
    392: "t",
    401: "!²³",
    411: "r",
    460: '"',
    500: "*_`°–",
    521: "s",
    525: "z",
    531: "?",
    541: "ε",
    550: "c",
    557: "L",
    575: "F",
    579: "k",
    592: "vxy",
    603: "P",
    611: "TY",
    612: "oθ",
    613: "a",
    615: "e",
    632: "E",
    634: "hnu",
    635: "Sbdgpq",
    636: "$0123456789{}µ",
    638: "β",
    656: "K",
    659: "α",
    660: "φ",
    684: "AV",
    685: "XZ",
    686: "B",
    695: "R",
    698: "C",
    732: "U",
    748: "N",
    752: "H",
    770: "D",
    775: "G",
    780: "&",
    787: "OQ",
    818: "w",
    838: "#+<=>^~±×≥≤",
    863: "M",
    950: "%",
    974: "m",
    989: "W",
    1000: "@",
}
_WIDTHS = {char: width / 1000 for width, chars in _ROWS.items() for char in chars}

ASCENT = 0.78
"""Part of a text box above the base line, as a share of the font size (capitals with an accent stay inside)."""
DESCENT = 0.24
"""Part of a text box below the base line, as a share of the font size."""
CAP_HEIGHT = 0.729
"""Height of a capital letter as a share of the font size (DejaVu Sans); CAD text heights are capital heights."""
BOLD = 1.2
"""How much wider bold text may be (DejaVu Sans Bold: up to 1.16 for words)."""
LINE_PITCH = 1.22
"""Distance of the base lines of a block, as a share of the font size."""


def text_width(content: str, size: float) -> float:
    """Width of a text set at `size`, in the unit of `size`."""
    return size * sum(_WIDTHS.get(char, 1.0) for char in content)


def wrap_lines(content: str, size: float, width: float) -> list[str]:
    """Break a text into lines no wider than `width` (same unit as `size`); a word that is too long is cut."""
    lines: list[str] = []
    line = ""
    for word in content.split():
        for piece in _pieces(word, size, width):
            longer = f"{line} {piece}" if line else piece
            if line and text_width(longer, size) > width:
                lines.append(line)
                line = piece
            else:
                line = longer
    return [*lines, line] if line else lines


def _pieces(word: str, size: float, width: float) -> list[str]:
    pieces, piece = [], ""
    for char in word:
        if piece and text_width(piece + char, size) > width:
            pieces.append(piece)
            piece = ""
        piece += char
    return [*pieces, piece]
