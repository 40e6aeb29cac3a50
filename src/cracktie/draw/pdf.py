"""A scene as PDF or PNG: typst sets the SVG on a page of the sheet's own size."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Literal

from cracktie.draw.scene import Scene
from cracktie.draw.svg import number, svg

FONT = "DejaVu Sans"


def font_folders() -> list[str]:
    """Folders with the sans-serif face for typst: the one matplotlib brings along (found without importing it)."""
    spec = importlib.util.find_spec("matplotlib")
    if spec is None or spec.origin is None:
        return []
    folder = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf"
    return [str(folder)] if folder.is_dir() else []


def pdf(scene: Scene) -> bytes:
    """The sheet as a PDF page at true scale; the same bytes for the same scene."""
    return _compile(scene, "pdf")


def png(scene: Scene, per_mm: int = 5) -> bytes:
    """The sheet as a picture of `per_mm` pixels per mm of paper (sheets are whole mm, so no pixel is interpolated)."""
    return _compile(scene, "png", 25.4 * per_mm)


def page_source(scene: Scene, name: str) -> str:
    """Typst source of a page that holds the drawing `name` (an SVG at true scale) and nothing else."""
    width, height = (number(side) for side in scene.paper)
    alt = scene.description.replace("\\", "\\\\").replace('"', '\\"')
    title = scene.title.replace("\\", "\\\\").replace('"', '\\"')
    return (
        f'#set document(title: "{title}", date: none)\n'
        f"#set page(width: {width}mm, height: {height}mm, margin: 0mm)\n"
        f'#image("{name}", width: {width}mm, height: {height}mm, alt: "{alt}")\n'
    )


def _compile(scene: Scene, form: Literal["pdf", "png"], ppi: float | None = None) -> bytes:
    import tempfile

    import typst

    true_scale = form == "pdf"
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "drawing.svg").write_text(svg(scene, true_scale=true_scale, font=FONT), encoding="utf-8")
        source = Path(folder, "page.typ")
        source.write_text(page_source(scene, "drawing.svg"), encoding="utf-8")
        made = typst.compile(str(source), format=form, ppi=ppi, font_paths=font_folders(), ignore_system_fonts=True)
    return bytes(made)
