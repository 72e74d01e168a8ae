"""Write the demo figure: ``python -m demo.figure OUT_DIR``."""

import argparse
import logging
import time
from pathlib import Path

from demo.figure.build import build_figure
from demo.figure.export import write_figure

_LOG = logging.getLogger("demo.figure")


def main() -> None:
    """Build the figure and write it where the caller says."""
    parser = argparse.ArgumentParser(prog="python -m demo.figure", description=__doc__)
    parser.add_argument("folder", type=Path, metavar="OUT_DIR", help="receives parts/*.stl and truth.json")
    parser.add_argument("--skin-mm", type=float, default=4.6, help="sampling step of the outside (default 4.6)")
    parser.add_argument("--head-mm", type=float, default=3.0, help="sampling step of the head (default 3)")
    parser.add_argument("--cavity-mm", type=float, default=9.0, help="sampling step of the inside (default 9)")
    asked = parser.parse_args()
    logging.basicConfig(level=logging.INFO, format="%(message)s")
    start = time.monotonic()
    figure = build_figure(asked.skin_mm, asked.head_mm, asked.cavity_mm)
    write_figure(asked.folder, figure.parts, figure.joints, figure.materials)
    _LOG.info(
        "%d parts, %d joints, %d bolts, %d triangles in %.0f s",
        len(figure.parts),
        len(figure.joints),
        sum(len(joint.bolts) for joint in figure.joints),
        sum(solid.num_tri() for solid in figure.parts.values()),
        time.monotonic() - start,
    )


if __name__ == "__main__":
    main()
