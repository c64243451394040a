"""No field grows in time by itself: thin shells on coarse grids, and the guard behind them.

`OWN_SHARE` in `annulus/conduction/gradients.py` tells the rule that is tried here.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from annulus.conduction import gradients
from annulus.conduction.boundaries import Film, Flux
from annulus.conduction.steady import conductivity_of_pieces
from annulus.conduction.transient import march
from annulus.errors import ConvergenceError
from annulus.verification.properties import first_order
from annulus.verification.random_sections import RandomSection, random_section

ROOM, FIRE = 293.15, 823.15
HOUR = 3600.0
# Of seeds 0 to 999 those whose second-order matrix, without the rule, has a mode that grows. In a day a growth of 1e-5
# per second doubles what it acts on.
THIN = [92, 186, 300, 540, 557, 938]


def swinging(section: RandomSection, seed: int) -> dict:
    """Capacities from loose wool to copper [J/(m3 K)], films of the section, a source [W/m3]."""
    rng = np.random.default_rng(seed + 10_000)
    return {
        "conductivity": section.conductivity,
        "capacity": {name: float(10 ** rng.uniform(5, 7)) for name in section.conductivity},
        "boundaries": {
            name: Film(f.coefficient, ROOM + (FIRE - ROOM) * f.ambient) for name, f in section.films.items()
        },
        "contacts": section.contacts,
        "source": lambda r, z: 1e4 * (1 + np.sin(50 * z)),
    }


def slowest(section: RandomSection, seed: int) -> float:
    """Real part of the eigenvalue of C^-1 A2 that falls slowest; negative where a mode grows. [1/s]"""
    pieces = section.cut()
    store = pieces.volume * conductivity_of_pieces(pieces, swinging(section, seed)["capacity"], np.zeros(pieces.count))
    return float(np.linalg.eigvals(section.connect(pieces).matrix.toarray() / store[:, None]).real.min())


@pytest.mark.parametrize("seed", THIN)
def test_a_march_over_thin_shells_ends(seed):
    """Where a mode grew, steps shrank and none of these ended within 6 s of computing."""
    section = random_section(seed, cells=12, decades=4.0)
    history = march(section.cut(), initial=ROOM, times=[HOUR], tolerance=1.0, **swinging(section, seed))
    assert history.ends.size < 300
    assert np.abs(history.imbalance).max() < 1e-9


@pytest.mark.parametrize("seed", THIN)
def test_no_mode_of_a_thin_shell_grows(seed, monkeypatch):
    section = random_section(seed, cells=12, decades=4.0)
    assert slowest(section, seed) > 0
    monkeypatch.setattr(gradients, "OWN_SHARE", -np.inf)
    assert slowest(section, seed) < -1e-5


@settings(max_examples=30)
@given(seed=st.integers(0, 100_000))
def test_every_contact_keeps_half_of_its_own_sides_and_others_are_left_alone(seed):
    """Against the shifts as they are without the rule: one factor a contact, and it is 1 where the rule is kept."""
    section = random_section(seed, cells=12)
    held = section.cut()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(gradients, "OWN_SHARE", -np.inf)
        free = section.cut()

    def least(pieces):
        every, (a, b) = np.arange(pieces.link_a.size), (pieces.link_a, pieces.link_b)
        across = pieces.true_difference.toarray()
        inward = pieces.truly_at_surface.toarray()[np.arange(pieces.surface_piece.size), pieces.surface_piece]
        return np.concatenate([np.minimum(across[every, a], -across[every, b]), inward])

    before, after = least(free), least(held)
    assert after.min() > 0.5 - 1e-12
    share = 0.5 / (1.0 - np.minimum(before, 0.5))
    without, having = (np.vstack([p.link_shift.toarray(), p.surface_shift.toarray()]) for p in (free, held))
    assert having == pytest.approx(share[:, None] * without, abs=1e-12)


# -- the guard behind it


@pytest.mark.parametrize("seed", [540, 557])
def test_a_field_that_grows_in_spite_of_sources_is_refused_before_long(seed, monkeypatch):
    monkeypatch.setattr(gradients, "OWN_SHARE", -np.inf)
    section = random_section(seed, cells=12, decades=4.0)
    with pytest.raises(ConvergenceError, match=r"transient field at .* leaves the range of .* Take a finer grid"):
        march(section.cut(), initial=ROOM, times=[HOUR], tolerance=1.0, **swinging(section, seed))


@pytest.mark.parametrize("seed", range(6))
def test_sources_and_fluxes_warm_no_piece_faster_than_if_it_kept_their_heat(seed):
    """On the first-order matrix, an M-matrix: what is left is the error of the steps."""
    section = random_section(seed, cells=12, decades=4.0)
    pieces, given_ = first_order(section.cut()), swinging(section, seed)
    given_["boundaries"] |= {"r_max": Flux(500.0)}
    history = march(pieces, initial=ROOM, times=[10.0, 100.0, 1000.0], tolerance=0.1, **given_)

    store = pieces.volume * conductivity_of_pieces(pieces, given_["capacity"], np.zeros(pieces.count))
    heat = pieces.volume * given_["source"](pieces.r, pieces.z)
    lit = pieces.boundary_surfaces("r_max")
    heat += np.bincount(pieces.surface_piece[lit], 500.0 * pieces.surfaces.area[lit], pieces.count)
    hottest = max([ROOM, *(film.ambient for film in given_["boundaries"].values() if isinstance(film, Film))])
    for time, field in zip(history.times, history.temperature, strict=True):
        assert field.min() > ROOM - 0.1 and field.max() < hottest + time * (heat / store).max() + 0.1
