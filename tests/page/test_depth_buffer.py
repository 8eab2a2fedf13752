"""What is in front is seen, whatever the order of drawing."""

from __future__ import annotations

import itertools

import numpy as np

from handfast.model.shape import Box, Cylinder, Shape, Solid, Sphere
from handfast.page.depth_buffer import look
from handfast.page.drawn_shape import corners_of, transformed
from handfast.page.viewpoint import Viewpoint
from handfast.spatial import se3
from handfast.spatial.se3 import Array

VIEW = Viewpoint((0.0, 0.0, 0.0), 0.3, 0.6, 1.0, (400, 400))


def body(shape: Shape, x: float = 0.0, y: float = 0.0, z: float = 0.0) -> Array:
    return transformed(corners_of((Solid(shape),), ""), se3.translation(x, y, z))


def signed_volume(corners: Array) -> float:
    """Divergence theorem: a closed surface with outward faces encloses its volume."""
    return float(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6)


def test_shapes_enclose_their_volume() -> None:
    n = 40  # around: a regular polygon holds n/(2 pi) sin(2 pi/n) of the circle's area
    polygon = n / (2 * np.pi) * np.sin(2 * np.pi / n)
    assert abs(signed_volume(body(Box((0.2, 0.3, 0.4)))) - 0.024) < 1e-12
    assert abs(signed_volume(body(Cylinder(0.1, 0.5))) / (np.pi * 0.01 * 0.5 * polygon) - 1) < 1e-9
    assert abs(signed_volume(body(Sphere(0.2))) / (4 / 3 * np.pi * 0.008) - 1) < 0.015


def test_a_ball_covers_a_disc() -> None:
    seen = look(VIEW, [body(Sphere(0.3))])
    share = np.count_nonzero(seen.body == 0) / 400**2
    assert abs(share / (np.pi * 0.09) - 1) < 0.01


def test_normals_face_the_viewer() -> None:
    seen = look(VIEW, [body(Sphere(0.3)), body(Box((0.5, 0.1, 0.1)), 0.2)])
    assert (seen.normal[seen.body >= 0] @ VIEW.axes[2] > 0).all()


def test_the_order_of_drawing_does_not_matter() -> None:
    towards = VIEW.axes[2]
    near, far = body(Box((0.2, 0.2, 0.2)), *(0.4 * towards)), body(Sphere(0.25))
    one, other = look(VIEW, [near, far]), look(VIEW, [far, near])
    np.testing.assert_array_equal(one.body == 0, other.body == 1)
    assert one.body[200, 200] == 0


def test_of_two_alike_the_nearer_is_seen() -> None:
    """Triangles of one size are drawn together, and there too the nearer wins."""
    towards = 0.3 * VIEW.axes[2]
    balls = body(Sphere(0.25), *towards), body(Sphere(0.25), *-towards)
    for front, order in ((0, balls), (1, balls[::-1])):
        seen = look(VIEW, list(order))
        assert set(np.unique(seen.body)) == {-1, front}


def test_big_and_small_triangles_agree() -> None:
    """One large square, and the same cut into many small ones (other code paths), look the same."""
    large = np.array(
        [[[-0.4, -0.4, 0], [0.4, -0.4, 0], [0.4, 0.4, 0]], [[-0.4, -0.4, 0], [0.4, 0.4, 0], [-0.4, 0.4, 0]]]
    )
    side = np.linspace(-0.4, 0.4, 81)
    small = [
        triangle
        for x0, x1 in itertools.pairwise(side)
        for y0, y1 in itertools.pairwise(side)
        for triangle in ([[x0, y0, 0], [x1, y0, 0], [x1, y1, 0]], [[x0, y0, 0], [x1, y1, 0], [x0, y1, 0]])
    ]
    a, b = look(VIEW, [large]), look(VIEW, [np.array(small)])
    assert np.count_nonzero((a.body >= 0) != (b.body >= 0)) <= 8  # pixels whose centre lies on an edge
    both = (a.body >= 0) & (b.body >= 0)
    np.testing.assert_allclose(a.nearness[both], b.nearness[both], atol=1e-9)


def test_nothing_to_see() -> None:
    assert (look(VIEW, []).body == -1).all()
    assert (look(VIEW, [body(Box((0.1, 0.1, 0.1)), 50.0)]).body == -1).all()
