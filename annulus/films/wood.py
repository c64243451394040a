"""Wood as fuel: moisture bases, heating value, and the gas that a given fire sends up.

Goes in: kilograms of wood per second, moisture, excess air, losses before the
coil. Comes out: gas flow, temperature and composition, from an enthalpy balance.
"""

from __future__ import annotations

from dataclasses import dataclass

from annulus.errors import InputError
from annulus.films.gas import HIGHEST, LOWEST, FlueGas
from annulus.films.properties import air_enthalpy
from annulus.films.stoichiometry import burn, check_burning, stoichiometric_air

DRY_HEATING_VALUE = 18.5e6  # J/kg, lower, dry wood; +/- 0.5e6 between species
EVAPORATION_HEAT = 2.443e6  # J/kg, water at 25 C

__all__ = [
    "Fire",
    "HeatedGas",
    "at_temperature",
    "dry_from_wet",
    "excess_air_of_gas",
    "gas_from_wood",
    "gas_per_wood",
    "heat_of_wood",
    "lower_heating_value",
    "stoichiometric_air",
    "wet_from_dry",
]


@dataclass(frozen=True)
class Fire:
    """What a wood fire delivers to the flue.

    Attributes
    ----------
    gas : FlueGas
    mass_flow : float
        [kg/s]
    temperature : float
        Just below the coil. [K]
    fired_power : float
        Wood flow times its lower heating value. [W]
    """

    gas: FlueGas
    mass_flow: float
    temperature: float
    fired_power: float


def wet_from_dry(moisture_dry: float) -> float:
    """Moisture on the wet basis from the dry basis that pin meters read: w = u / (1 + u)."""
    if not moisture_dry >= 0.0:
        raise InputError(f"dry-basis moisture {moisture_dry} must not be negative")
    return moisture_dry / (1.0 + moisture_dry)


def dry_from_wet(moisture_wet: float) -> float:
    """Moisture on the dry basis (what a pin meter reads) from the wet basis: u = w / (1 - w)."""
    check_burning(moisture_wet)
    return moisture_wet / (1.0 - moisture_wet)


def lower_heating_value(moisture_wet: float) -> float:
    """Lower heating value of wet wood, water leaving as vapour. [J/kg]

    LHV = 18.5 (1 - w) - 2.443 w MJ/kg, for 0 <= w <= 0.7; species differ by 0.5 MJ/kg.
    Raises InputError outside.

    References
    ----------
    The form is that of ISO 18125 (heating value as received); 18.5 MJ/kg is a
    mean of published values for dry wood. Both from memory of those texts.
    """
    check_burning(moisture_wet)
    return DRY_HEATING_VALUE * (1.0 - moisture_wet) - EVAPORATION_HEAT * moisture_wet


def gas_per_wood(moisture_wet: float, excess_air: float) -> float:
    """Flue gas from one kilogram of wet wood: wood less ash, plus air. [kg/kg]"""
    return burn(moisture_wet, excess_air).mass


def excess_air_of_gas(moisture_wet: float, gas: float) -> float:
    """Excess air with which one kilogram of wet wood makes so much gas [kg/kg]: `gas_per_wood` read backwards.

    Below 1 where there is less gas than the wood makes with the least air.
    """
    return 1.0 + (gas - gas_per_wood(moisture_wet, 1.0)) / stoichiometric_air(moisture_wet)


@dataclass(frozen=True)
class HeatedGas:
    """What a wood fire delivers, by the enthalpy of its gas [J/kg]; `loss` as given to `heat_of_wood`."""

    gas: FlueGas
    mass_flow: float
    enthalpy: float
    fired_power: float
    loss: float


def gas_from_wood(
    wood_rate: float,
    moisture_wet: float,
    excess_air: float,
    loss: float,
    air_temperature: float = 293.15,
    pressure: float = 101325.0,
) -> Fire:
    """Gas flow and temperature below the coil from a burn rate.

    gas enthalpy = (1 - loss) x fired power + enthalpy of the air drawn in.
    The wood is taken in at 298.15 K (10 K colder: 0.1 % of the heat); burning is complete.

    Parameters
    ----------
    wood_rate : float
        Wet wood burned, positive. [kg/s]
    moisture_wet : float
        Water over total mass, 0 to 0.7.
    excess_air : float
        Air supplied over air needed, 1 or more.
    loss : float
        Share of the fired power that leaves before the coil, 0 to below 1.
    air_temperature : float
        Combustion air, 250 K to 400 K. [K]
    pressure : float
        Absolute. [Pa]

    Raises
    ------
    InputError
        If a value lies outside its range, or the balance ends outside the
        250 to 2000 K of the gas laws.
    """
    heated = heat_of_wood(wood_rate, moisture_wet, excess_air, loss, air_temperature, pressure)
    return at_temperature(heated, float(heated.gas.temperature(heated.enthalpy)))


def heat_of_wood(
    wood_rate: float,
    moisture_wet: float,
    excess_air: float,
    loss: float,
    air_temperature: float = 293.15,
    pressure: float = 101325.0,
) -> HeatedGas:
    """The enthalpy balance of `gas_from_wood`, arguments and errors as there; the temperature is left to be found."""
    if not 0.0 < wood_rate < float("inf"):
        raise InputError(f"wood rate {wood_rate} kg/s must be positive and finite")
    if not 0.0 <= loss < 1.0:
        raise InputError(f"loss before the coil {loss} must be at least 0 and below 1 of the fired power")
    if not LOWEST <= air_temperature <= 400.0:
        raise InputError(f"combustion air at {air_temperature} K must lie between {LOWEST:g} and 400 K")
    gas = FlueGas(moisture_wet, excess_air, pressure)

    per_wood = gas_per_wood(moisture_wet, excess_air)
    air = excess_air * stoichiometric_air(moisture_wet)
    heat = (1.0 - loss) * lower_heating_value(moisture_wet) + air * float(air_enthalpy(air_temperature))
    return HeatedGas(gas, wood_rate * per_wood, heat / per_wood, wood_rate * lower_heating_value(moisture_wet), loss)


def at_temperature(heated: HeatedGas, temperature: float) -> Fire:
    """The fire whose gas has the temperature of its enthalpy. [K]

    Raises
    ------
    InputError
        If that lies outside the 250 to 2000 K of the gas laws.
    """
    if not LOWEST <= temperature <= HIGHEST:
        raise InputError(
            f"fire with excess air {heated.gas.excess_air} and loss {heated.loss}: gas at {temperature:.0f} K lies"
            f" outside {LOWEST:g} to {HIGHEST:g} K; is the excess air or the loss before the coil too small?"
        )
    return Fire(heated.gas, heated.mass_flow, temperature, heated.fired_power)
