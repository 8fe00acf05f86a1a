"""Names beside marks: none on another, on a mark, on the axis, or off the chart."""

from __future__ import annotations

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg

from cubital.catalogue import shipped
from cubital.indicators.funnel import FunnelPolicy, funnel
from cubital.indicators.placing import FLOOR, placed
from cubital.indicators.plots import Picture, _funnel, figure_of

ROOM = (446.0, 166.0)
HEIGHT = 9.0


@settings(max_examples=60)
@given(st.lists(st.tuples(st.floats(5, 440), st.floats(0, 150)), min_size=1, max_size=8))
def test_every_name_stands_on_the_chart(marks: list[tuple[float, float]]) -> None:
    """Above the axis, inside, and as many as there are marks."""
    boxes = placed(marks, [70.0] * len(marks), HEIGHT, ROOM)
    assert len(boxes) == len(marks)
    for box in boxes:
        assert box.low >= FLOOR
        assert box.left >= 0
        assert box.right <= ROOM[0]
        assert box.high <= ROOM[1]


def test_places_at_nothing_are_named_above_one_another() -> None:
    """Six small places at 0 %, closer together than their names are long."""
    boxes = placed([(30.0 + 12 * n, 0.0) for n in range(6)], [80.0] * 6, HEIGHT, ROOM)
    assert all(box.low >= FLOOR for box in boxes)
    assert all(one.shared(other) == 0 for one, other in itertools.combinations(boxes, 2))


def test_the_names_of_a_drawn_funnel_lie_clear() -> None:
    """Places at 0 % and places side by side, as they are drawn: over no axis, over no other."""
    places = [
        ("a", 0, 60),
        ("b", 0, 70),
        ("c", 0, 300),
        ("d", 6, 310),
        ("e", 6, 305),
        ("f", 9, 320),
    ]
    names = {code: f"Post in the {code} valley" for code, _, _ in places}
    drawn = funnel(places, FunnelPolicy.of(shipped()))
    figure = figure_of(Picture("f", "f", "f", lambda axes: _funnel(axes, drawn, names)))
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    (axes,) = figure.axes
    texts = [each for each in axes.texts if each.get_text() in names.values()]
    boxes = [each.get_window_extent(canvas.get_renderer()) for each in texts]
    assert len(boxes) == len(places)
    floor = axes.get_window_extent().y0
    assert all(box.y0 > floor for box in boxes)
    assert not any(one.overlaps(other) for one, other in itertools.combinations(boxes, 2))
