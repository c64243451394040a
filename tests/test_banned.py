"""Refused fillers, cautions and warnings. The lists are common practice; they have no single source."""

import pytest

from annulus.errors import MaterialError
from annulus.materials import (
    cautions_for,
    custom,
    find,
    names,
    refuse_if_banned,
    refuse_inside,
)


@pytest.mark.parametrize(
    "text, reason",
    [
        ("aluminium powder", "thermite"),
        ("Aluminum turnings", "thermite"),
        ("powdered magnesium", "thermite"),
        ("titanium swarf", "thermite"),
        ("fine zinc dust", "thermite"),
        ("turnings of aluminium", "thermite"),
        ("sawdust", "organic"),
        ("saw dust", "organic"),
        ("wood shavings", "organic"),
        ("charcoal", "carbon monoxide"),
        ("ash with charcoal", "carbon monoxide"),
        ("crushed coal", "carbon monoxide"),
        ("candle wax", "catch fire"),
        ("thermal oil", "catch fire"),
        ("salt", "salts"),
        ("calcium chloride", "salts"),
        ("sodium nitrate", "salts"),
        ("potassium permanganate", "salts"),
        ("cement", "not cured"),
        ("wet plaster", "not cured"),
        ("fresh furnace cement", "not cured"),
        ("lead shot", "poisonous"),
    ],
)
def test_banned_filler_is_refused_with_its_reason(text, reason):
    for refuse in (refuse_if_banned, find, lambda name: custom(name, 1.0, 1e3, 900.0, 0.9, "filler")):
        with pytest.raises(MaterialError, match=f"refused.*{reason}"):
            refuse(text)


@pytest.mark.parametrize(
    "text",
    [
        *names(),
        "aluminium oxide powder",
        "magnesium oxide grit",
        "zinc-free steel shot",
        "charcoal-free ash",
        "sand without salt",
        "cured cement",
        "dried plaster",
        "glass wool, aluminium faced",
        "boiled water-washed sand",
        "quartz flour",
        "leadscrew grease-free shot",
    ],
)
def test_harmless_material_is_not_refused(text):
    refuse_if_banned(text)


@pytest.mark.parametrize("place", ["flue", "shroud"])
def test_zinc_is_refused_inside(place):
    with pytest.raises(MaterialError, match=f"{place}.*zinc"):
        refuse_inside(find("galvanised steel"), place)
    refuse_inside(find("black steel"), place)


def test_zinc_is_known_of_a_material_defined_in_place():
    assert custom("galvanized duct", 50.0, 7850.0, 460.0, 0.3, "metal").zinc


@pytest.mark.parametrize(
    "text, told",
    [
        ("beach sand", "chloride"),
        ("damp sand", "steam"),
        ("metal powder from a sale", "which metal"),
        ("old vermiculite", "asbestos"),
    ],
)
def test_doubtful_filler_brings_a_caution(text, told):
    assert any(told in sentence for sentence in cautions_for(text))
    assert any(told in s for s in custom(text, 0.3, 1500.0, 800.0, 0.9, "filler").warnings)


@pytest.mark.parametrize(
    "name, told",
    [
        ("quartz sand", "oven-dry"),
        ("quartz sand", "dust"),
        ("graphite powder", "electricity"),
        ("graphite powder", "oxidises"),
        ("wood ash", "caustic"),
        ("vermiculite", "asbestos"),
        ("ceramic blanket", "carcinogen"),
        ("mineral wool", "binder"),
        ("galvanised steel", "zinc"),
        ("furnace cement", "cured"),
    ],
)
def test_risky_library_material_brings_its_warning(name, told):
    assert any(told in sentence for sentence in find(name).warnings)
