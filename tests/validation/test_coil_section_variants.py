"""References of the coil section's variants: converged, in balance, and those of the published plain section.

The variants themselves are in `annulus verify`.
"""

import pytest

from annulus.verification.coil_section import REFERENCES
from annulus.verification.coil_variants import variants

# Printed digits of another body-fitted finite-element calculation with quadratic triangles (two meshes agree to
# 2e-6, two assemblies to 1e-6), by name in the file of references.
PUBLISHED = {"plain": REFERENCES[0.3], "plain_dense": REFERENCES[2.0]}


@pytest.mark.parametrize("name", PUBLISHED)
def test_references_reproduce_the_plain_section_to_every_digit(name):
    for key, digits in vars(PUBLISHED[name]).items():
        last = 10.0 ** -len(repr(digits).partition(".")[2])
        found = getattr(variants()[name].reference, key)
        assert found == pytest.approx(digits, abs=0.5 * last + 2e-6 * digits), key


@pytest.mark.parametrize("name", variants())
def test_references_are_converged_to_four_digits_and_in_balance(name):
    variant = variants()[name]
    assert variant.mesh_error < 5e-5
    assert sum(variant.turns) == pytest.approx(variant.reference.tubes, rel=1e-6)
    assert variant.reference.gas_side == pytest.approx(variant.reference.tubes + variant.reference.outside, rel=1e-6)
