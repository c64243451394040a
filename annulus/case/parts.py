"""The parts of a case as frozen objects, all numbers in SI.

Goes in: a dictionary in which every derived value is already filled in (see
`annulus.case.deriving`). Comes out: one `Case`. A key that a part does not have
is refused. The meaning of every key stands in `starter.toml`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PrivateAttr

from annulus.case.quantities import (
    HIGHEST_GROUND,
    LONGEST,
    LOWEST_GROUND,
    WIDEST,
    Conductivity,
    ContactResistance,
    Emissivity,
    FixedFilm,
    Height,
    Length,
    LongLength,
    Name,
    Quantity,
    Temperature,
    Thickness,
)
from annulus.errors import InputError
from annulus.materials import Material, custom, find

Pair = Literal[
    "tube-flue",
    "tube-filler",
    "flue-filler",
    "filler-shroud",
    "shroud-insulation",
    "insulation-jacket",
]
PAIRS: tuple[str, ...] = get_args(Pair)
FILLER_PAIRS = tuple(pair for pair in PAIRS if "filler" in pair.split("-"))
MOST_TURNS = 1000  # of a coil: more than anybody winds, and what a machine still solves
_NO_ROOM = "the tube would be larger than the cavity and the shroud cut into it"
_CONDUCTIVITY = Quantity("conductivity", above=0.0)
FIRE_ROW = (
    Quantity("time", "min", least=0.0),
    Quantity("temperature", above=0.0),
    Quantity("mass_flow", above=0.0),
)  # a row of a fire's table
FireRow = Annotated[tuple[float, float, float], BeforeValidator(lambda value: _read_fire_row(value))]
_TABLE_TEMPERATURE = Quantity("temperature", above=0.0)


def _read_conductivity(value: Any) -> Any:
    """One conductivity, or a table of [temperature, conductivity] rows."""
    if not isinstance(value, (list, tuple)):
        return _CONDUCTIVITY.read(value)
    if not all(isinstance(row, (list, tuple)) and len(row) == 2 for row in value):
        raise InputError('each row of the table must be ["temperature", "conductivity"]')
    return tuple((_TABLE_TEMPERATURE.read(T), _CONDUCTIVITY.read(k)) for T, k in value)


class Part(BaseModel):
    """A table of the case file. Frozen; unknown keys are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Flue(Part):
    """The pipe: wall, coating outside, soot inside, bare lengths beyond the coil."""

    material: str
    inner_diameter: Length
    wall: Length
    height: Annotated[float | None, Quantity("length", above=0.0, most=LONGEST)] = None
    coating: Name = None
    coating_thickness: Thickness = 0.0
    soot_thickness: Thickness = 0.0
    soot_conductivity: Conductivity = 0.1
    bare_below: LongLength = 0.0
    bare_above: LongLength = 0.0
    emissivity: Emissivity

    @property
    def outer_radius(self) -> float:
        """Radius of the outside of the wall. [m]"""
        return self.inner_diameter / 2 + self.wall


class Coil(Part):
    """The wound tube. `gap` holds one value per turn, bottom first."""

    material: str = "copper"
    tube: str | None = None
    tube_outer_diameter: Length
    tube_wall: Length
    turns: Annotated[int, Field(strict=True, ge=1, le=MOST_TURNS)]
    pitch: Length
    gap: tuple[Thickness, ...]
    contact_strip: Length = 0.0002
    tails: LongLength = 2.0

    @property
    def height(self) -> float:
        """Turns times pitch. [m]"""
        return self.turns * self.pitch


class Void(Part):
    """A stated region of the cavity that the filler does not fill.

    r from the outside of the flue wall, z from the bottom of the coil section. [m]
    """

    r_min: Thickness
    r_max: Length
    z_min: Height
    z_max: Height
    material: str = "still air"


class Filler(Part):
    """What the cavity between flue and shroud is packed with."""

    material: str = "still air"
    packing: Name = None
    moisture: Annotated[float, Quantity("fraction", least=0.0, most=1.0)] = 0.0
    settled_top: Thickness = 0.0
    strip_under_tubes: Thickness = 0.0
    film_at_flue: Thickness = 0.0
    voids: tuple[Void, ...] = ()


class Shroud(Part):
    """Sheet around the cavity; clearance counts from the tube crowns (or the flue)."""

    material: str
    sheet: Length
    clearance: Annotated[float, Quantity("length", least=0.0, most=WIDEST, cause=_NO_ROOM)]
    vented: Annotated[bool, Field(strict=True)] = True


class Insulation(Part):
    """Layer around the shroud, or around the tube crowns if there is no shroud."""

    material: str
    thickness: Length


class Jacket(Part):
    """Outer skin of the insulation."""

    material: str
    thickness: Length
    emissivity: Emissivity


class Fire(Part):
    """Gas that enters the flue: its temperature and flow, or the wood it comes from."""

    gas_temperature: Annotated[float | None, Quantity("temperature", above=0.0)] = None
    gas_flow: Annotated[float | None, Quantity("mass_flow", above=0.0)] = None
    wood_rate: Annotated[float | None, Quantity("mass_flow", "kg/h", above=0.0)] = None
    loss_before_coil: Annotated[float | None, Quantity("fraction", least=0.0, most=0.99)] = None
    moisture: Annotated[float, Quantity("fraction", least=0.0, most=1.5)] = 0.18
    moisture_basis: Literal["wet", "dry"] = "wet"
    excess_air: Annotated[float, Quantity("number", least=1.0, most=30.0)] = 2.2
    gas_multiplier: Annotated[float, Quantity("number", above=0.0)] = 1.0
    flame_emissivity: Annotated[float, Quantity("number", least=0.0, most=1.0)] = 0.0
    film_coefficient: FixedFilm = None

    @property
    def moisture_wet(self) -> float:
        """Moisture as a fraction of the wet fuel."""
        return self.moisture / (1 + self.moisture) if self.moisture_basis == "dry" else self.moisture


class Water(Part):
    """Water through the coil; flow in [kg/s], pressure absolute, relief above that of the air."""

    flow: Annotated[float, Quantity("water_flow", above=0.0)]
    inlet_temperature: Annotated[
        float, Quantity("temperature", least=273.15, cause="it would be ice; was another unit meant?")
    ]
    direction: Literal["up", "down"] = "up"
    pressure: Annotated[float, Quantity("pressure", above=0.0)]
    vessel: Literal["open", "closed"] = "open"
    relief: Annotated[float | None, Quantity("pressure", above=0.0, word="none")] = None
    film_coefficient: FixedFilm = None


class Chimney(Part):
    """What carries the gas from the described flue to the open air."""

    height: Annotated[float, Quantity("length", "m", above=0.0, most=LONGEST)]
    inner_diameter: Annotated[float | None, Quantity("length", above=0.0, word="as the flue")] = None
    resistance: Annotated[float, Quantity("contact_resistance", least=0.0)] = 0.4
    outdoor_temperature: Annotated[float, Quantity("temperature", above=0.0)] = 278.15
    losses: Annotated[float, Quantity("number", least=0.0)] = 2.0


class Room(Part):
    """Air around the heater."""

    temperature: Temperature
    ends: Literal["open", "insulated"] = "open"
    altitude: Annotated[float, Quantity("length", "m", least=LOWEST_GROUND, most=HIGHEST_GROUND)] = 0.0
    film_coefficient: FixedFilm = None


def _read_fire_row(value: Any) -> Any:
    """One row of a fire's table: time, gas temperature, gas flow."""
    if not isinstance(value, (list, tuple)) or len(value) != 3:
        raise InputError('each row of the table must be ["time", "temperature", "flow"]')
    return tuple(kind.read(text) for kind, text in zip(FIRE_ROW, value, strict=True))


class Tank(Part):
    """What the coil heats: water in a drum, mixed or in layers."""

    volume: Annotated[float, Quantity("volume", above=0.0)]
    start_temperature: Annotated[float, Quantity("temperature", least=273.15, cause="it would be ice")]
    target_temperature: Annotated[float, Quantity("temperature", least=273.15, cause="it would be ice")]
    layers: Annotated[int, Field(strict=True, ge=1, le=60)] = 1
    height: Annotated[float, Quantity("length", "m", above=0.0, most=LONGEST)] = 0.6
    loss: Annotated[float, Quantity("heat_loss", least=0.0)] = 2.5
    surroundings: Annotated[float | None, Quantity("temperature", above=0.0, word="room")] = None
    drum_mass: Annotated[float, Quantity("mass", least=0.0)] = 0.0
    drum_heat_capacity: Annotated[float, Quantity("heat_capacity", above=0.0)] = 460.0


class Loop(Part):
    """The pipe between coil and tank, and what drives the water through it."""

    circulation: Literal["pumped", "natural"] = "pumped"
    pipe_length: LongLength = 6.0
    pipe_bore: Length = 0.019
    fittings: Annotated[float, Quantity("number", least=0.0)] = 8.0
    tank_above_coil: Annotated[float, Quantity("length", "m", least=-LONGEST, most=LONGEST)] = 0.0
    mixing_valve: Annotated[float | None, Quantity("temperature", above=0.0, word="none")] = None


class Burn(Part):
    """A fire over time and where it ends; times in [s]."""

    until: Literal["target", "duration"] = "target"
    duration: Annotated[float, Quantity("time", "h", above=0.0, most=1e6)] = 86400.0
    start_temperature: Annotated[float | None, Quantity("temperature", above=0.0, word="room")] = None
    fire: Literal["constant", "reloads", "table"] = "constant"
    reload: Annotated[float, Quantity("mass", above=0.0)] = 1.0
    reload_every: Annotated[float, Quantity("time", "min", above=0.0)] = 1200.0
    reloads: Annotated[int | None, Field(strict=True, ge=1)] = None
    flaming_time: Annotated[float, Quantity("time", "min", above=0.0)] = 360.0
    charcoal_time: Annotated[float, Quantity("time", "min", above=0.0)] = 1500.0
    charcoal_share: Annotated[float, Quantity("fraction", least=0.0, most=0.9)] = 0.25
    table: tuple[FireRow, ...] = ()


class InPlaceMaterial(Part):
    """A material defined in the case file."""

    family: Literal["metal", "filler", "insulation", "coating", "gas"]
    conductivity: Annotated[float | tuple[tuple[float, float], ...], BeforeValidator(_read_conductivity)]
    density: Annotated[float, Quantity("density", above=0.0)]
    heat_capacity: Annotated[float, Quantity("heat_capacity", above=0.0)]
    emissivity: Annotated[float, Quantity("number", least=0.0, most=1.0)]
    service_limit: Annotated[float | None, Quantity("temperature", above=0.0, word="none")] = None

    def make(self, name: str) -> Material:
        """Material of this definition; MaterialError if banned or impossible."""
        return custom(
            name,
            self.conductivity,
            self.density,
            self.heat_capacity,
            self.emissivity,
            self.family,
            service_limit=self.service_limit,
        )


class Log(Part):
    """How a burn log names its columns, and the errors of what it was measured with (one standard deviation)."""

    clock: Name = None
    elapsed: Name = None
    gas_below: Name = None
    gas_above: Name = None
    water_in: Name = None
    water_out: Name = None
    tank: Name = None
    tank_top: Name = None
    tank_bottom: Name = None
    flow: Name = None
    wood: Name = None
    room: Name = None
    outdoors: Name = None
    water_probe_error: Annotated[float | None, Quantity("temperature_difference", least=0.0, word="usual")] = None
    gas_probe_error: Annotated[float | None, Quantity("temperature_difference", least=0.0, word="usual")] = None
    volume_error: Annotated[float | None, Quantity("fraction", least=0.0, most=1.0, word="usual")] = None
    flow_error: Annotated[float | None, Quantity("fraction", least=0.0, most=1.0, word="usual")] = None
    wood_error: Annotated[float | None, Quantity("fraction", least=0.0, most=1.0, word="usual")] = None


class Case(Part):
    """One heater and its fire, water and room, fully resolved. SI and kelvin.

    A contact of None is computed from the filler's grains when the section is laid out.
    """

    title: str
    invented: Annotated[bool, Field(strict=True)] = False
    description: str = ""
    flue: Flue
    coil: Coil | None = None
    filler: Filler = Filler()
    shroud: Shroud | None = None
    insulation: Insulation | None = None
    jacket: Jacket | None = None
    contacts: dict[Pair, ContactResistance]
    fire: Fire
    water: Water | None = None
    room: Room
    tank: Tank | None = None
    loop: Loop | None = None
    burn: Burn | None = None
    chimney: Chimney | None = None
    log: Log | None = None
    materials: dict[str, InPlaceMaterial] = {}
    _conductivity_factors: dict[str, float] = PrivateAttr(default_factory=dict)

    @property
    def height(self) -> float:
        """Height of the coil section (of the stated flue height without a coil). [m]"""
        return self.coil.height if self.coil is not None else float(self.flue.height or 0.0)

    def material(self, name: str, packing: str | None = None) -> Material:
        """Material of this name: the case's own definition, else the library's."""
        own = self.materials.get(name)
        found = own.make(name) if own is not None else find(name, packing)
        factor = self._conductivity_factors.get(name)
        return found if factor is None else replace(found, conductivity=found.conductivity.scaled(factor))

    def with_conductivity(self, name: str, factor: float) -> Case:
        """The same case with a material's conductivity multiplied, for studies: no case file can say it."""
        scaled = self.model_copy()
        scaled._conductivity_factors = {**self._conductivity_factors, name: factor}
        return scaled
