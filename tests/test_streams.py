"""Streams: the mean of a segment, the coupled equations, and that no heat is lost between them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from annulus.heater.streams import SMALL_NTU, couple, outlet_weight
from annulus.verification.streams import solve, stream, wall


def test_small_segment_weighs_inlet_and_outlet_alike():
    assert outlet_weight(np.array([0.0])) == 0.5


def test_large_segment_takes_the_outlet():
    # 1/(1 - exp(-N)) - 1/N = 1 - 1/N for large N
    assert outlet_weight(np.array([1000.0]))[0] == pytest.approx(1 - 1e-3, rel=1e-12)


def test_weight_is_continuous_where_the_series_takes_over():
    low, high = outlet_weight(np.array([SMALL_NTU * (1 - 1e-9), SMALL_NTU * (1 + 1e-9)]))
    # 0.5 + N/12 drops N^3/720, 1e-15 here; the closed form cancels two numbers of 1/N = 1e4: 1e-12
    assert high == pytest.approx(low, abs=5e-12)


@given(st.floats(1e-9, 500.0))
def test_weight_makes_one_segment_exact_at_a_wall_of_one_temperature(ntu):
    """Heat N (mean - wall) equals the stream's loss 1 - exp(-N), for a wall 1 K below the inlet."""
    outlet_fall = -np.expm1(-ntu)
    mean_excess = 1.0 - outlet_weight(np.array([ntu]))[0] * outlet_fall
    assert ntu * mean_excess == pytest.approx(outlet_fall, rel=1e-9)


def test_hand_sized_segment():
    """One segment, N = 2 against 0 outside: outlet exp(-2) of the inlet, written out."""
    network = wall(area=1.0, segments=1, inner=20.0, outer=1e9)
    _, _, [ends] = solve(network, [stream(network, "r_min", inlet=100.0, capacity=10.0)])
    # series of 1/20, 1e-9 and 1e-9: N = 2 (1 - 4e-8)
    assert ends[1] == pytest.approx(100.0 * np.exp(-2.0), rel=1e-6)


def test_heat_that_streams_lose_is_heat_that_the_wall_gains():
    network = wall(area=2.0, segments=7, inner=30.0, outer=50.0)
    hot = stream(network, "r_min", inlet=550.0, capacity=13.2)
    cold = stream(network, "r_max", inlet=15.0, capacity=125.4, upwards=False)
    coupled, temperature, (hot_ends, cold_ends) = solve(network, [hot, cold])
    rises = np.concatenate([hot_ends[1:] - 550.0, cold_ends[1:] - 15.0])
    flow = network.surface_matrix @ temperature + network.surface_conductance * coupled.ambient(rises)
    assert flow[hot.surfaces].sum() == pytest.approx(13.2 * (550.0 - hot_ends[-1]), rel=1e-11)
    assert flow[cold.surfaces].sum() == pytest.approx(125.4 * (15.0 - cold_ends[-1]), rel=1e-11)
    assert abs(flow.sum()) < 1e-9 * np.abs(flow).sum()


def test_stream_of_the_walls_temperature_keeps_it():
    network = wall(area=1.0, segments=5, inner=20.0, outer=8.0, outer_ambient=40.0)
    _, temperature, [ends] = solve(network, [stream(network, "r_min", inlet=40.0, capacity=3.0)])
    np.testing.assert_allclose(ends, 40.0, rtol=1e-12)
    np.testing.assert_allclose(temperature, 40.0, rtol=1e-12)


def test_ambient_is_zero_where_no_stream_runs():
    network = wall(area=1.0, segments=3, inner=20.0, outer=8.0)
    coupled = couple(network, [stream(network, "r_min", inlet=5.0, capacity=3.0)])
    ambient = coupled.ambient(np.zeros(3))
    assert (ambient[network.pieces.boundary_surfaces("r_min")] == 5.0).all()
    assert (ambient[network.pieces.boundary_surfaces("r_max")] == 0.0).all()


def test_without_streams_the_section_stands_alone():
    network = wall(area=1.0, segments=4, inner=20.0, outer=20.0, outer_ambient=50.0)
    coupled = couple(network, [])
    any_field = np.arange(1.0, network.pieces.count + 1.0)
    np.testing.assert_allclose(coupled.matrix @ any_field, network.matrix @ any_field, rtol=0, atol=1e-12)
    np.testing.assert_allclose(coupled.matrix.diagonal(), network.matrix.diagonal(), rtol=1e-14)
    np.testing.assert_array_equal(coupled.drive, network.drive)


def test_segment_order_is_the_order_of_flow():
    network = wall(area=1.0, segments=6, inner=20.0, outer=1e9)
    _, up, [rising] = solve(network, [stream(network, "r_min", 100.0, 10.0)])
    _, down, [falling] = solve(network, [stream(network, "r_min", 100.0, 10.0, upwards=False)])
    np.testing.assert_allclose(rising, falling, rtol=1e-12)
    np.testing.assert_allclose(up, down[::-1], rtol=1e-9, atol=1e-12)


@given(st.floats(0.01, 1e6), st.floats(0.01, 1e6), st.floats(1e-3, 1e5), st.floats(1e-3, 1e5), st.booleans())
def test_no_temperature_leaves_the_range_of_the_inlets(inner, outer, hot, cold, counter):
    """No segment overshoots its wall, however large its number of transfer units."""
    network = wall(area=1.0, segments=4, inner=inner, outer=outer)
    streams = [stream(network, "r_min", 1.0, hot), stream(network, "r_max", 0.0, cold, upwards=not counter)]
    _, temperature, ends = solve(network, streams)
    everything = np.concatenate([temperature, *ends])
    # round-off of a solve whose conductances lie up to nine decades apart
    assert everything.min() > -1e-6 and everything.max() < 1 + 1e-6
