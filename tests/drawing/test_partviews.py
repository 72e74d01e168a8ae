"""Parts seen one by one and put together give what the renderer sees of them together."""

from __future__ import annotations

import numpy as np
import pytest

from assembler.drawing.camera import framed
from assembler.drawing.partviews import PartViews
from assembler.drawing.studio import Studio
from tests.drawing.specimens import skittle


@pytest.mark.parametrize("eye", [(1.0, 0.3, 0.2), (-0.4, -1.0, 0.5), (0.0, 0.1, 1.0)], ids=str)
def test_any_set_of_parts_is_seen_as_the_renderer_sees_it(tmp_path, eye):
    made = skittle()
    with Studio(made.plan, made.meshes, tmp_path) as studio:
        items = studio.coarse_items()
        camera = framed(np.vstack([studio.rasteriser.box(item) for item in items]), eye, (0.0, 0.0, 1.0), 160, 220)
        views = PartViews(items, camera, studio.rasteriser)
        for numbers in ([1], [2, 4], range(1, len(items) + 1), [len(items), 1], []):
            chosen = sorted(numbers)
            seen = views.together(numbers)
            drawn = studio.rasteriser.draw([items[number - 1] for number in chosen], camera, within=items)
            names = np.array([0, *chosen], dtype=np.uint16)
            assert np.abs(seen.near_mm - drawn.near_mm).max() < 1e-3
            # Where faces touch at one depth, which of the two a pixel shows is the renderer's to say.
            assert (seen.ids == names[drawn.ids]).mean() > 0.995
            assert seen.ids.any() == bool(chosen)
