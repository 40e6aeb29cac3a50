"""A scene as DXF: model space in millimetres of the real object (1:1), one CAD layer per drawing layer.

The same scene gives the same bytes: handles are counted from the start, and the file carries no date and no id.
"""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, Any

from cracktie.draw.metrics import CAP_HEIGHT
from cracktie.draw.scene import LAYERS, PENS, Arc, Circle, Line, Polygon, Polyline, Scene, Simple, Text

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts import Modelspace

DRAWN = "drawn 1:1, unit mm"
"""What stands in the place of the note on scale."""
_PENS = {"concrete": "outline", "FRP": "frp", "stirrups": "stirrup", "bars": "bar", "anchors": "anchor"}
"""The pen that gives a layer its colour; supports and gauges are black, all else as dimensions."""
_WEIGHTS = (0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100)
"""Line weights a DXF may hold, in hundredths of a mm."""
_STAMP = re.compile(r"^[0-9][0-9A-Za-z.]* @ [0-9]{4}-[0-9]{2}-[0-9]{2}T.*$")
"""The writer's version and time, as its library puts them into the file."""
_FIXED_ID = "{00000000-0000-0000-0000-000000000000}"
_FIXED_DAY = 2451545.0
"""Julian day 1 January 2000, for the dates that every DXF must state."""


def dxf(scene: Scene) -> str:
    """The scene as the text of a DXF (R2010) file."""
    document = _document(scene)
    space = document.modelspace()
    parts = [*scene.simple(), Text(scene.note.layer, scene.note.at, DRAWN, scene.note.size, scene.note.align)]
    for part in parts:
        _add(space, part, scene.scale)
    # registered in order of name; left to itself the library writes them in the order of a set
    for name in sorted({*document.entitydb.dxf_types_in_use(), "DICTIONARYVAR"}):
        document.classes.add_class(name)
    stream = io.StringIO()
    document.write(stream)
    return _pinned(stream.getvalue())


def _document(scene: Scene) -> Drawing:
    import ezdxf
    from ezdxf import units

    document = ezdxf.new("R2010", setup=False)
    document.units = units.MM
    document.header["$MEASUREMENT"] = 1
    document.header["$LTSCALE"] = 1.0
    document.header["$EXTMIN"] = (scene.sheet[0], scene.sheet[1], 0.0)
    document.header["$EXTMAX"] = (scene.sheet[2], scene.sheet[3], 0.0)
    document.styles.get("Standard").dxf.font = "arial.ttf"
    for layer in LAYERS:
        plain = "support" if layer in ("supports", "gauges") else "dimension"
        document.layers.add(layer).rgb = _rgb(PENS[_PENS.get(layer, plain)].colour)
    for name, pen in PENS.items():
        if pen.dash:
            lengths = [part * scene.scale * (-1 if i % 2 else 1) for i, part in enumerate(pen.dash)]
            document.linetypes.add(_linetype(name), pattern=[sum(map(abs, lengths)), *lengths])
    return document


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _linetype(pen: str) -> str:
    return f"CT_{pen.replace(' ', '_')}".upper()


def _style(item: Simple) -> dict[str, Any]:
    style: dict[str, Any] = {"layer": item.layer}
    pen = None if isinstance(item, Text) else item.pen
    if pen is not None:
        wanted = round(PENS[pen].width * 100)
        style["lineweight"] = min(_WEIGHTS, key=lambda weight: abs(weight - wanted))
        if PENS[pen].dash:
            style["linetype"] = _linetype(pen)
    return style


def _add(space: Modelspace, item: Simple, scale: float) -> None:
    style = _style(item)
    if isinstance(item, Text):
        _add_text(space, item, scale, style)
    elif isinstance(item, Line):
        space.add_line(item.a, item.b, style)
    elif isinstance(item, Arc):
        space.add_arc(item.centre, item.radius, item.start, item.end, dxfattribs=style)
    elif isinstance(item, Circle):
        space.add_circle(item.centre, item.radius, style)
    elif isinstance(item, Polyline):
        space.add_lwpolyline(item.points, dxfattribs=style)
    elif item.pen is not None:
        space.add_lwpolyline(item.points, close=True, dxfattribs=style)
    elif item.fill in ("ink", "slate", "anchor") and len(item.points) in (3, 4):
        _add_solid(space, item, style)


def _add_solid(space: Modelspace, item: Polygon, style: dict[str, Any]) -> None:
    """Arrowheads, plates and dowels. A solid lists its last two corners crosswise."""
    points = list(item.points)
    if len(points) == 4:
        points[2], points[3] = points[3], points[2]
    space.add_solid(points, style)


def _add_text(space: Modelspace, item: Text, scale: float, style: dict[str, Any]) -> None:
    from ezdxf.enums import TextEntityAlignment as Alignment

    places = {"start": Alignment.LEFT, "middle": Alignment.CENTER, "end": Alignment.RIGHT}
    height = item.size * CAP_HEIGHT * scale
    text = space.add_text(item.content, height=height, rotation=item.rotation, dxfattribs=style)
    text.set_placement(item.at, align=places[item.align])


def _pinned(text: str) -> str:
    """The file with its dates and ids replaced by fixed ones."""
    lines = text.split("\n")
    fixed = {
        "$TDCREATE": f"{_FIXED_DAY}",
        "$TDUCREATE": f"{_FIXED_DAY}",
        "$TDUPDATE": f"{_FIXED_DAY}",
        "$TDUUPDATE": f"{_FIXED_DAY}",
        "$FINGERPRINTGUID": _FIXED_ID,
        "$VERSIONGUID": _FIXED_ID,
    }
    for i, line in enumerate(lines):
        if line in fixed:
            lines[i + 2] = fixed[line]
    return "\n".join(_STAMP.sub("1 @ 2000-01-01T00:00:00+00:00", line) for line in lines)
