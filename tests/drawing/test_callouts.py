"""References: never over another, no crossing leaders, in reading order."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from assembler.drawing.callouts import Callout, Label, crosses, drawn, overlaps, placed

WIDTH, HEIGHT = 2008.0, 1506.0
SUBJECT = (600.0, 100.0, 1400.0, 1400.0)
ANCHORS = st.lists(st.tuples(st.floats(600.0, 1400.0), st.floats(100.0, 1400.0)), min_size=1, max_size=24, unique=True)


@settings(max_examples=60, deadline=None)
@given(ANCHORS)
def test_no_overlap_no_crossing_none_outside(anchors):
    labels = [Label(text=f"P{index:02d}", anchor=anchor) for index, anchor in enumerate(anchors)]
    callouts = placed(labels, SUBJECT, WIDTH, HEIGHT)
    assert sorted(one.label.text for one in callouts) == sorted(one.text for one in labels)
    assert overlaps(callouts, WIDTH, HEIGHT) == 0


def test_placement_does_not_depend_on_the_order_given():
    labels = [Label(text=f"P{index}", anchor=(700.0 + 37.0 * index % 600, 150.0 + 91.0 * index)) for index in range(9)]
    assert placed(labels, SUBJECT, WIDTH, HEIGHT) == placed(labels[::-1], SUBJECT, WIDTH, HEIGHT)


def test_faults_are_counted():
    def at(x: float, y: float, anchor: tuple[float, float]) -> Callout:
        return Callout(label=Label(text="P1", anchor=anchor), centre=(x, y), half_width=30.0, half_height=20.0)

    apart = (at(100.0, 100.0, (500.0, 100.0)), at(100.0, 200.0, (500.0, 200.0)))
    assert overlaps(apart, 1000.0, 1000.0) == 0
    over = (at(100.0, 100.0, (500.0, 100.0)), at(110.0, 110.0, (500.0, 300.0)))
    assert overlaps(over, 1000.0, 1000.0) >= 1
    crossing = (at(100.0, 100.0, (500.0, 300.0)), at(100.0, 200.0, (500.0, 50.0)))
    assert overlaps(crossing, 1000.0, 1000.0) == 1
    through = (at(100.0, 100.0, (900.0, 100.0)), at(400.0, 100.0, (900.0, 400.0)))
    assert overlaps(through, 1000.0, 1000.0) >= 1
    outside = (at(10.0, 100.0, (500.0, 100.0)),)
    assert overlaps(outside, 1000.0, 1000.0) == 1


def test_crossing_of_segments():
    assert crosses((0, 0), (2, 2), (0, 2), (2, 0))
    assert not crosses((0, 0), (1, 1), (3, 0), (0, 3))
    assert not crosses((0, 0), (2, 0), (0, 1), (2, 1))


def test_long_names_get_wider_boxes_and_stay_text():
    labels = [Label(text="left_hind_paw & claws", anchor=(900.0, 700.0), heavy=True)]
    callouts = placed(labels, SUBJECT, WIDTH, HEIGHT)
    assert overlaps(callouts, WIDTH, HEIGHT) == 0
    assert callouts[0].half_width > 3.0 * callouts[0].half_height
    assert ">left_hind_paw &amp; claws</text>" in drawn(callouts)
