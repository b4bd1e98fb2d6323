"""Boundaries in order whatever was fitted: of two that contradict one another the vaguer is no place."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from logger.domain.judgement import Boundary
from logger.phases.boundaries import _in_order

PLACES = st.one_of(
    st.builds(Boundary, at_s=st.floats(0.0, 20.0), u_s=st.floats(0.01, 5.0)),
    st.just(Boundary(reason="opening_not_visible")),
)


def test_the_vaguer_of_two_places_out_of_order_is_none() -> None:
    edges = [Boundary(at_s=9.0, u_s=1.2), Boundary(at_s=8.0, u_s=0.1), Boundary(at_s=30.0, u_s=0.3)]
    first, second, third = _in_order(edges)
    assert (first.at_s, first.u_s, first.reason) == (None, 1.2, "edge_not_clear")
    assert (second, third) == (edges[1], edges[2])


@given(st.lists(PLACES, min_size=6, max_size=6))
def test_what_is_left_is_in_order_and_what_was_in_order_stays(edges: list[Boundary]) -> None:
    found = _in_order(edges)
    placed = [edge.at_s for edge in found if edge.at_s is not None]
    assert all(a < b for a, b in pairwise(placed))
    assert all(new == old or new.at_s is None for new, old in zip(found, edges, strict=True))
    before = [edge.at_s for edge in edges if edge.at_s is not None]
    if all(a < b for a, b in pairwise(before)):
        assert found == edges
