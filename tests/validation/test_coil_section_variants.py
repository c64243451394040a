"""The coil section with poor contact, narrow gaps, voids and touching tubes, against finite elements.

The numbers in coil_section_references.toml come from benchmarks/reference_coil_section.py, which shares no
code with annulus. The limits are those of the plain section, V30 in `annulus verify`.
"""

import tomllib
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from annulus.conduction.boundaries import Film
from annulus.conduction.grid import Grid, graded_faces
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import region_extremes
from annulus.conduction.steady import Field, solve_steady
from annulus.shapes import Disc, Rectangle

MM = 1e-3
WATER = 40.0
TURNS = range(8)
LAYERS = ("flue", "filler", "shroud", "insulation", "jacket")
RADII = (75.0, 76.5, 93.0, 94.0, 124.5, 125.0)  # [mm]
CONDUCTIVITY = {"flue": 45.0, "shroud": 45.0, "insulation": 0.08, "jacket": 45.0}
TUBE, BORE = 6.35, 5.55  # radii [mm]
SIZE = 0.25  # [mm] of cells in the filler of the coarser grid
ON_STRIP, GROWTH = 0.025, 0.2  # [mm] and of the distance: cells about a contact strip 0.2 mm wide
TEMPERATURES = ("wall_max", "wall_min", "filler_max", "outer_face_max", "mean_bore_face")
HEATS = ("gas_side", "tubes", "outside")

REFERENCES = tomllib.loads((Path(__file__).parent / "coil_section_references.toml").read_text(encoding="utf-8"))
VARIANTS = [name for name in REFERENCES if not name.startswith("plain")]  # those have their own test

# The plain section at 0.3 W/(m K), printed digits of another body-fitted finite-element calculation with
# quadratic triangles (two meshes agree to 2e-6, two assemblies to 1e-6).
PLAIN = {"gas_side": "887.17", "tubes": "882.91", "outside": "4.2602", "wall_max": "89.947", "wall_min": "85.992"}
PLAIN |= {"filler_max": "89.655", "outer_face_max": "23.988", "mean_bore_face": "88.568", "resistance": "0.05501"}
DENSE = {"gas_side": "955.95", "tubes": "951.51", "outside": "4.4407", "wall_max": "54.037", "wall_min": "50.446"}
DENSE |= {"filler_max": "53.695", "outer_face_max": "24.157", "mean_bore_face": "52.798", "resistance": "0.01345"}


def faces(name: str, fineness: int) -> tuple[np.ndarray, np.ndarray]:
    """Radial and axial faces [m] for cells of `SIZE` in the filler, each split into `fineness`.

    Uniform in the filler, as in the plain section, but where tubes touch the
    flue: there the heat passes a strip narrower than one such cell and spreads
    from it in the flue wall, so cells shrink towards the strip in both.
    """
    section = REFERENCES[name]
    void = section.get("void", ())
    touches = section["centre"] - RADII[1] < TUBE
    middle = (np.array(TURNS) + 0.5) * section["pitch"]

    def radial(r):
        near = ON_STRIP + GROWTH * np.abs(r - RADII[1]) if touches else np.full(r.shape, np.inf)
        in_filler, inside, in_shroud = (r > RADII[1] - 1e-6) & (r < RADII[2] + 1e-6), r < RADII[1], r < RADII[3]
        growing = np.minimum(SIZE + GROWTH * np.abs(r - RADII[3]), 3.0)
        return np.minimum(np.select([in_filler, inside, in_shroud], [SIZE, 0.375, 0.5], growing), near)

    def axial(z):
        to_middle = np.abs(z[:, None] - middle).min(axis=1)
        return np.minimum(SIZE, ON_STRIP + GROWTH * to_middle) if touches else np.full(z.shape, SIZE)

    height = len(TURNS) * section["pitch"]
    blocks = section["pitch"] * np.arange(len(TURNS) + 1)
    fixed = (*blocks, *middle) if touches else (0.0, height, *void[2:])
    return graded_faces((*RADII, *void[:2]), radial, fineness) * MM, graded_faces(fixed, axial, fineness) * MM


@lru_cache
def solve_variant(name: str, fineness: int) -> Field:
    section = REFERENCES[name]
    height = len(TURNS) * section["pitch"]

    def ring(r_min, r_max, z_min=0.0, z_max=height):
        return Rectangle(r_min * MM, r_max * MM, z_min * MM, z_max * MM)

    layers = {layer: ring(*RADII[n : n + 2]) for n, layer in enumerate(LAYERS)}
    painted = [Painted("filler", layers.pop("filler"))]
    conductivity = CONDUCTIVITY | {"filler": section["filler"]} | {f"tube {i}": 390.0 for i in TURNS}
    if "void" in section:
        painted.append(Painted("void", ring(*section["void"])))
        conductivity["void"] = 0.03
    for i in TURNS:
        r, z = section["centre"] * MM, (i + 0.5) * section["pitch"] * MM
        painted.append(Painted(f"tube {i}", Disc(r, z, TUBE * MM)))
        painted.append(Painted(f"bore {i}", Disc(r, z, BORE * MM), conducts=False))
    painted += [Painted(layer, shape) for layer, shape in layers.items()]
    boundaries = {"r_min": Film(30.0, 550.0), "r_max": Film(10.0, 20.0)}
    boundaries |= {f"bore {i}": Film(2000.0, WATER) for i in TURNS}
    contacts = {(f"tube {i}", "filler"): section["contact"] for i in TURNS}
    return solve_steady(cut_grid(Grid(*faces(name, fineness)), painted), conductivity, boundaries, contacts)


def measure(field: Field) -> dict[str, float | np.ndarray]:
    """The reference's quantities by its names."""
    p, face = field.pieces, field.surface_temperature
    gas, room = p.boundary_surfaces("r_min"), p.boundary_surfaces("r_max")
    turns = -np.array([field.heat_into(f"bore {i}") for i in TURNS])
    mean = float(np.average(face[gas], weights=p.surfaces.area[gas]))
    wall_min, wall_max = region_extremes(field, "flue")
    return {
        "gas_side": field.heat_into("r_min"),
        "tubes": float(turns.sum()),
        "outside": -field.heat_into("r_max"),
        "wall_max": wall_max,
        "wall_min": wall_min,
        "filler_max": region_extremes(field, "filler")[1],
        "outer_face_max": float(face[room].max()),
        "mean_bore_face": mean,
        "resistance": (mean - WATER) / float(turns.sum()),
        "turns": turns,
    }


def relative_errors(name: str, fineness: int) -> dict[str, float]:
    """Largest error of each quantity, temperatures counted from the water's."""
    expected, computed = REFERENCES[name], measure(solve_variant(name, fineness))
    errors = {}
    for key, value in computed.items():
        exact, zero = np.asarray(expected[key]), WATER if key in TEMPERATURES else 0.0
        errors[key] = float(np.abs((value - exact) / (exact - zero)).max())
    return errors


@pytest.mark.parametrize("name", VARIANTS)
@pytest.mark.parametrize(("fineness", "share"), [(1, 1.0), (2, 1 / 3)])
def test_variant_meets_the_body_fitted_finite_elements(name, fineness, share):
    """Limits of the plain section at 0.25 mm, a third of them at 0.125 mm; the resistance is the strong one."""
    errors = relative_errors(name, fineness)
    print(f"\n{name}, {SIZE / fineness} mm:", *(f"{key} {100 * error:.3f} %" for key, error in errors.items()))
    limits = {"resistance": 0.01, "outside": 0.005, "gas_side": 0.002, "tubes": 0.002, "turns": 0.002}
    limits |= dict.fromkeys(TEMPERATURES, 0.01)
    assert {key: error for key, error in errors.items() if error > limits[key] * share} == {}


@pytest.mark.parametrize("name", VARIANTS)
def test_nothing_is_lost_and_mirrored_turns_are_equal(name):
    """Each section is its own mirror image about its middle."""
    field = solve_variant(name, 1)
    turns = measure(field)["turns"]
    assert turns == pytest.approx(turns[::-1], rel=1e-6)  # round-off of faces and the solver's residual
    assert abs(field.imbalance) < 1e-9 * field.heat_into("r_min")


@pytest.mark.parametrize(("name", "published"), [("plain", PLAIN), ("plain_dense", DENSE)])
def test_references_reproduce_the_plain_section_to_every_digit(name, published):
    for key, digits in published.items():
        last = 10.0 ** -len(digits.partition(".")[2])
        assert REFERENCES[name][key] == pytest.approx(float(digits), abs=0.5 * last + 2e-6 * float(digits)), key


@pytest.mark.parametrize("name", REFERENCES)
def test_references_are_converged_to_four_digits(name):
    reference = REFERENCES[name]
    assert reference["mesh_error"] < 5e-5
    assert sum(reference["turns"]) == pytest.approx(reference["tubes"], rel=1e-6)
    assert reference["gas_side"] == pytest.approx(reference["tubes"] + reference["outside"], rel=1e-6)


@pytest.mark.parametrize(("fineness", "share"), [(1, 1.0), (2, 1 / 3)])
@pytest.mark.parametrize("name", [name for name in VARIANTS if "void" in name])
def test_what_a_void_changes_is_right(name, fineness, share):
    """A void moves some heat flows by less than their limits; so the changes are held to the reference, too."""
    with_void, without = measure(solve_variant(name, fineness)), measure(solve_variant("plain", fineness))
    for key in ("turns", "outside"):
        change = with_void[key] - without[key]
        expected = np.subtract(REFERENCES[name][key], REFERENCES["plain"][key])
        error = np.abs(change - expected).max() / np.abs(expected).max()
        print(f"\n{name}, {SIZE / fineness} mm: change of {key} {100 * error:.2f} %")
        assert error < 0.04 * share, key  # worst: 2.6 % of the 0.025 W by which a void in the shadow moves 110 W
