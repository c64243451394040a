"""Property series: true to their source, integrable, cheap to load."""

import subprocess
import sys

import numpy as np
import pytest

from annulus.films import fit_properties, properties

# relative; IF97's own conductivity wiggles by 1e-4 and the fit runs through the middle
TOLERANCE = {"water_conductivity": 2e-4}
FRESH = fit_properties.all_series()


@pytest.mark.parametrize("name", sorted(FRESH))
def test_shipped_series_is_a_fresh_fit_of_the_source(name):
    entry, law = FRESH[name], properties.series(name)
    assert (entry["low"], entry["high"], entry["logarithmic"]) == (law.low, law.high, law.logarithmic)
    places = np.linspace(law.low, law.high, 41)
    refit = properties.Series(law.low, law.high, np.array(entry["coefficients"]), law.logarithmic)
    assert law(places) == pytest.approx(refit(places), rel=1e-8)


def test_every_stored_series_is_one_of_the_fitted():
    assert set(properties._stored()) == set(FRESH)


@pytest.mark.parametrize(
    ("name", "letter"),
    [
        ("water_heat_capacity", "C"),
        ("water_density", "D"),
        ("water_viscosity", "V"),
        ("water_conductivity", "L"),
        ("water_saturation_pressure", "P"),
    ],
)
def test_water_series_meets_the_library_between_its_nodes(name, letter):
    from CoolProp.CoolProp import PropsSI

    places = np.linspace(274.0, 509.0, 53)
    direct = [PropsSI(letter, "T", float(place), "Q", 0, "IF97::Water") for place in places]
    assert properties.series(name)(places) == pytest.approx(direct, rel=TOLERANCE.get(name, 2e-6))


def test_species_heat_capacity_meets_the_library_between_its_nodes():
    from CoolProp.CoolProp import PropsSI

    for name, fluid in fit_properties.GASES.items():
        places = np.linspace(280.0, 1990.0, 31)
        direct = [PropsSI("CP0MOLAR", "T", float(place), "P", 101325.0, fluid) for place in places]
        assert properties.series(f"{name}_heat_capacity")(places) == pytest.approx(direct, rel=3e-6)


def test_air_transport_meets_the_table_of_an_open_library():
    # air, 1 atm, computed with an open property library: T [K], k [mW/mK], mu [1e-6 Pa s], rho [kg/m3]
    table = np.array(
        [
            [300, 26.4, 18.5, 1.177],
            [400, 33.5, 23.1, 0.882],
            [500, 39.9, 27.1, 0.706],
            [600, 46.0, 30.8, 0.588],
            [700, 51.8, 34.2, 0.504],
            [800, 57.3, 37.4, 0.441],
            [900, 62.5, 40.4, 0.392],
        ]
    )
    temperature = table[:, 0]
    # half a unit of the table's last digit, and a little: 57.249 stands there as 57.3
    assert properties.air_conductivity(temperature) * 1e3 == pytest.approx(table[:, 1], abs=0.06)
    assert properties.air_viscosity(temperature) * 1e6 == pytest.approx(table[:, 2], abs=0.051)
    assert properties.air_density(temperature) == pytest.approx(table[:, 3], abs=0.0011)


def test_integral_is_that_of_the_series_inside_and_outside_its_range():
    law = properties.Series(0.0, 2.0, np.array([3.0, 1.0]))  # 3 + (x - 1) = 2 + x
    assert law.integral(1.0) == pytest.approx(2.5, rel=1e-14)
    assert law.integral(2.0) == pytest.approx(6.0, rel=1e-14)
    assert law.integral(3.0) == pytest.approx(6.0 + 4.0, rel=1e-14)  # end value 4 held
    assert law.integral(-1.0) == pytest.approx(-2.0, rel=1e-14)  # end value 2 held
    assert law(np.array([-5.0, 5.0])) == pytest.approx([2.0, 4.0])
    assert list(law.in_range([-1.0, 0.0, 2.0, 2.1])) == [False, True, True, False]


def test_importing_films_and_asking_them_loads_no_heavy_library_but_the_compiler():
    code = (
        "import sys; import annulus.films as f;"
        "f.gas_film(0.008, 0.15, 0.9, 600.0, 350.0, f.FlueGas(0.18, 2.2));"
        "f.water_film(0.05, 0.013, 0.17, 300.0, 305.0); f.room_film(310.0, 293.0, 0.9, 0.9);"
        "heavy = {'CoolProp', 'ht', 'fluids', 'matplotlib'} & set(sys.modules);"
        "sys.exit(f'loaded {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
