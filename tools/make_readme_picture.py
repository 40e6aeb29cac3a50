"""Draws docs/images/demo-curves.png from the invented demo campaign: `python tools/make_readme_picture.py`.

The picture is the shear-deflection figure of the report, marked as simulated; nothing in it was measured.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from cracktie import actions
from cracktie.campaign.write import write_bytes
from cracktie.demo.write import write_demo
from cracktie.draw.pdf import font_folders
from cracktie.figures.curves import shear_deflection
from cracktie.reduced import TestResult

PICTURE = Path(__file__).resolve().parents[1] / "docs" / "images" / "demo-curves.png"
WIDTH_MM, WIDTH_PIXELS = 180, 1400


def demo_figure(folder: Path) -> str:
    """SVG text of the demo's shear-deflection figure; the campaign is written into the empty `folder`."""
    campaign = actions.open_campaign(write_demo(folder))
    reduced = actions.reduce(campaign)
    groups: dict[str, list[TestResult]] = {}
    for test in reduced.tests.values():
        groups.setdefault(campaign.group_of(test.specimen), []).append(test)
    return shear_deflection(groups, system=campaign.head.shown_units, simulated=reduced.simulated)


def png(svg: str) -> bytes:
    """The figure on white with a margin, `WIDTH_PIXELS` wide."""
    import typst

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "figure.svg").write_text(svg, encoding="utf-8")
        source = folder / "page.typ"
        source.write_text(
            f"#set page(width: {WIDTH_MM}mm, height: auto, margin: 5mm, fill: white)\n"
            '#image("figure.svg", width: 100%)\n',
            encoding="utf-8",
        )
        ppi = WIDTH_PIXELS / (WIDTH_MM / 25.4)
        made = typst.compile(str(source), format="png", ppi=ppi, font_paths=font_folders(), ignore_system_fonts=True)
    return bytes(made)


def main() -> None:
    """Write the picture."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--to", type=Path, default=PICTURE, help="file to write")
    target = parser.parse_args().to
    with tempfile.TemporaryDirectory() as folder:
        made = png(demo_figure(Path(folder, "demo")))
    target.parent.mkdir(parents=True, exist_ok=True)
    write_bytes(target, made)
    print(f"wrote {target}")


if __name__ == "__main__":
    main()
