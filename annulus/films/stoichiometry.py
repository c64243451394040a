"""What burning a kilogram of wood takes in and gives off, element by element.

Goes in: moisture on the wet basis and the excess air. Comes out: kilograms of
air and moles of flue gas per kilogram of wet wood. Complete burning to CO2 and
H2O; no properties here.
"""

from __future__ import annotations

from dataclasses import dataclass

from annulus.errors import InputError

# Mass fractions of dry wood, a mean of common species; no single source.
CARBON, HYDROGEN, OXYGEN, NITROGEN, ASH = 0.497, 0.061, 0.431, 0.002, 0.009

# kg/mol, IUPAC conventional atomic weights.
MASS_C, MASS_H, MASS_O, MASS_N, MASS_AR = 0.012011, 0.001008, 0.015999, 0.014007, 0.039948
MASS_WATER = 2 * MASS_H + MASS_O

# Mole fractions of dry air; its 0.04 % of CO2 is counted as nitrogen.
AIR_OXYGEN, AIR_NITROGEN, AIR_ARGON = 0.2095, 0.7812, 0.0093
MASS_AIR = AIR_OXYGEN * 2 * MASS_O + AIR_NITROGEN * 2 * MASS_N + AIR_ARGON * MASS_AR

MOST_MOISTURE = 0.7  # wet basis; above about 0.65 wood does not sustain a fire


@dataclass(frozen=True)
class Products:
    """Moles of each species per kilogram of wet wood. [mol/kg]"""

    carbon_dioxide: float
    water_vapour: float
    nitrogen: float
    oxygen: float
    argon: float

    @property
    def moles(self) -> float:
        """Moles of gas per kilogram of wet wood. [mol/kg]"""
        return self.carbon_dioxide + self.water_vapour + self.nitrogen + self.oxygen + self.argon

    @property
    def mass(self) -> float:
        """Kilograms of gas per kilogram of wet wood. [kg/kg]"""
        return (
            self.carbon_dioxide * (MASS_C + 2 * MASS_O)
            + self.water_vapour * MASS_WATER
            + self.nitrogen * 2 * MASS_N
            + self.oxygen * 2 * MASS_O
            + self.argon * MASS_AR
        )


def check_burning(moisture_wet: float, excess_air: float = 1.0) -> None:
    """Refuse a moisture or an excess air that cannot be.

    Raises
    ------
    InputError
        Moisture outside 0 to 0.7 (wet basis), or excess air below 1.
    """
    faults = []
    if not 0.0 <= moisture_wet <= MOST_MOISTURE:
        faults.append(
            f"moisture {moisture_wet} must lie between 0 and {MOST_MOISTURE} of the wet mass;"
            " was a dry-basis reading or a percentage given?"
        )
    if not 1.0 <= excess_air < float("inf"):
        faults.append(
            f"excess air {excess_air} must be 1 or more (air supplied over air needed);"
            " was the excess alone given, without the 1?"
        )
    if faults:
        raise InputError("; ".join(faults))


def oxygen_need(moisture_wet: float) -> float:
    """Moles of oxygen that burn one kilogram of wet wood completely. [mol/kg]"""
    dry_need = CARBON / MASS_C + HYDROGEN / (4 * MASS_H) - OXYGEN / (2 * MASS_O)
    return (1.0 - moisture_wet) * dry_need


def stoichiometric_air(moisture_wet: float) -> float:
    """Dry air that burns one kilogram of wet wood completely. [kg/kg]

    Raises
    ------
    InputError
        Moisture outside 0 to 0.7 (wet basis).
    """
    check_burning(moisture_wet)
    return oxygen_need(moisture_wet) / AIR_OXYGEN * MASS_AIR


def burn(moisture_wet: float, excess_air: float) -> Products:
    """Flue gas from one kilogram of wet wood.

    The humidity of the combustion air is left out: air at 10 C and 80 % adds
    about a tenth to the water vapour and 2 K to the dew point.

    Parameters
    ----------
    moisture_wet : float
        Water over total mass, 0 to 0.7.
    excess_air : float
        Air supplied over air needed, 1 or more.

    Raises
    ------
    InputError
        If either lies outside its range.
    """
    check_burning(moisture_wet, excess_air)
    dry = 1.0 - moisture_wet
    need = oxygen_need(moisture_wet)
    air = excess_air * need / AIR_OXYGEN
    return Products(
        carbon_dioxide=dry * CARBON / MASS_C,
        water_vapour=dry * HYDROGEN / (2 * MASS_H) + moisture_wet / MASS_WATER,
        nitrogen=dry * NITROGEN / (2 * MASS_N) + air * AIR_NITROGEN,
        oxygen=(excess_air - 1.0) * need,
        argon=air * AIR_ARGON,
    )
