"""Write the invented burn logs of `cases/burn-logs/` anew.

    PYTHONPATH=. python benchmarks/make_logs.py

A lumped heater stands for the truth here: two resistances between gas and water, one body that
warms, a tank in two layers. What these logs are for is the reading of them; the logs that calibration is tested on
come from the burn model itself.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from annulus.films.gas import FlueGas
from annulus.films.stoichiometry import burn
from annulus.logs.synthetic import Course, capped, constant, save_log, to_fahrenheit, write_down

FOLDER = Path(__file__).parent.parent / "cases" / "burn-logs"
FINE = 5.0  # [s], step of the truth
PLAIN = {
    "clock": "time",
    "gas_below": "flue below coil [degC]",
    "gas_above": "flue above coil [degC]",
    "water_in": "hose in [degC]",
    "water_out": "hose out [degC]",
    "tank_top": "drum top [degC]",
    "tank_bottom": "drum bottom [degC]",
    "flow": "flow [L/min]",
    "wood": "wood [kg]",
}
MIXED = PLAIN | {"gas_above": "flue above coil [degF]", "water_in": "hose in [degF]"}


def invent(
    seed: int,
    conductance: float,
    hours: float = 4.0,
    volume: float = 0.150,
    wood_rate: float = 3.0 / 3600,
    hottest: float = 420.0,
) -> Course:
    """A bath-house burn; `conductance` is that from wall to water. [W/K]"""
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, hours * 3600.0 + FINE, FINE)
    n = time.size
    reload = 1200.0
    wood = np.zeros(n)
    phase = np.full(n, reload)
    for k, start in enumerate(np.arange(0.0, time[-1] - 600.0, reload)):
        i = round(start / FINE)
        wood[i] = wood_rate * reload * rng.uniform(0.85, 1.15) if k else wood_rate * reload * 1.3
        phase[i:] = time[i:] - start
    door = np.where(phase < 90.0, 0.75 + 0.25 * phase / 90.0, 1.0)  # the door is open
    flare = 1.0 + 0.22 * np.exp(-(((phase - 420.0) / 300.0) ** 2)) - 0.10
    slow = 1.0 + 0.05 * np.interp(time, np.linspace(0, time[-1], 12), rng.normal(0.0, 1.0, 12))
    rise = 1.0 - np.exp(-time / 500.0)
    gas_below = 291.15 + (hottest - 18.0) * rise * flare * slow * door
    gas = FlueGas(0.18, 2.2)
    gas_flow = wood_rate * burn(0.18, 2.2).mass * (0.75 + 0.25 * rise) * (0.8 + 0.4 * flare * 0.5)

    flow, c, loss, outdoors = 3.0 * 0.9982 / 60, 4185.0, 2.5, 278.15
    top = bottom = 281.15
    body, body_capacity, film = 286.0, 16000.0, 4.3  # [K], [J/K], [W/K] of the gas side
    out = {role: np.empty(n) for role in ("gas_above", "water_in", "water_out", "tank_top", "tank_bottom")}
    heat_to_water = lost = 0.0
    mass = volume * 998.0
    for i in range(n):
        capacity = gas_flow[i] * float(gas.cp(500.0))
        from_gas = capacity * (1.0 - np.exp(-film / capacity)) * (gas_below[i] - body)
        to_water = conductance * (body - bottom) / (1.0 + conductance / (2 * flow * c))
        body += FINE * (from_gas - to_water) / body_capacity
        out["gas_above"][i] = gas_below[i] - from_gas / capacity
        out["water_in"][i], out["water_out"][i] = bottom, bottom + to_water / (flow * c)
        out["tank_top"][i], out["tank_bottom"][i] = top, bottom
        # returned at the top, drawn at the bottom; the upper layer is pushed down
        top_loss, bottom_loss = 0.5 * loss * (top - outdoors), 0.5 * loss * (bottom - outdoors)
        upper, lower = 0.5 * mass * c, 0.5 * mass * c
        down = flow * c * (top - bottom)
        top += FINE * (flow * c * (out["water_out"][i] - top) - top_loss) / upper
        bottom += FINE * (down - bottom_loss) / lower
        heat_to_water += FINE * to_water
        lost += FINE * (top_loss + bottom_loss)
    channels = {"gas_below": gas_below, **out, "flow": np.full(n, flow), "wood": wood}
    target = 273.15 + 30.0
    mean = 0.5 * (out["tank_top"] + out["tank_bottom"])
    reached = np.flatnonzero(mean >= target)
    truth = {
        "heater": "lumped: conductances and one body; invented",
        "seed": seed,
        "wall_to_water_W_per_K": conductance,
        "water_volume_L": 1e3 * volume,
        "tank_loss_W_per_K": loss,
        "surroundings_C": outdoors - 273.15,
        "heat_to_tank_J": heat_to_water,
        "tank_loss_J": lost,
        "wood_kg": float(wood.sum()),
        "tank_end_C": float(mean[-1] - 273.15),
        "time_to_30_C_s": float(time[reached[0]]) if reached.size else None,
    }
    return Course(time, channels, truth)


def clean() -> None:
    course = invent(1, conductance=20.0)
    save_log(FOLDER, "clean", write_down(course, PLAIN, 60.0, np.random.default_rng(11)), course)


def mixed_up() -> None:
    """One column in Fahrenheit under a Celsius heading, a reload gap, lost and repeated rows, two probes exchanged."""
    course = invent(2, conductance=20.0)
    sheet = write_down(course, PLAIN, 60.0, np.random.default_rng(12), begins=79200.0)  # over midnight
    sheet.plant("fahrenheit", "gas_above", range(len(sheet.rows)), to_fahrenheit)
    sheet.exchange("water_out", "water_in", range(90, 161))
    sheet.plant("missing", "water_out", range(45, 48), constant(""))
    sheet.plant("unreadable", "gas_below", [70], constant("err"))
    sheet.plant("spike", "tank_bottom", [200], constant("31.7"))
    sheet.repeat(180)
    sheet.delay(150, 3)
    sheet.lose(120, 126)
    sheet.lose(30, 30)
    save_log(FOLDER, "mixed-up", sheet, course)


def worn_probes() -> None:
    """A probe that sticks, one that ends at 400 degC, one unplugged for a while, a display switched over."""
    course = invent(3, conductance=20.0, hottest=450.0)
    sheet = write_down(course, MIXED, 60.0, np.random.default_rng(13))
    rows = sheet.rows
    sheet.exchange("tank_top", "tank_bottom", range(len(rows)))
    top = sheet.headings["tank_top"]
    sheet.plant("stuck", "tank_top", range(100, 131), constant(rows[100].cells[top]))
    below = sheet.headings["gas_below"]
    limit = 400.0
    hot = [n for n, row in enumerate(rows) if float(row.cells[below]) >= limit]
    start = 0
    for k in range(1, len(hot) + 1):
        if k == len(hot) or hot[k] != hot[k - 1] + 1:
            if k - start >= 4:
                sheet.plant("saturated", "gas_below", hot[start:k])
            start = k
    for row in rows:
        row.cells[below] = capped(limit)(row.cells[below])
    sheet.plant("fault code", "water_in", range(60, 66), constant("-196.6"))
    sheet.plant("fahrenheit", "water_out", range(150, 181), to_fahrenheit)
    save_log(FOLDER, "worn-probes", sheet, course)


def hand_written() -> None:
    """Read by hand every five to twelve minutes, in whole degrees, on a clock without seconds."""
    course = invent(4, conductance=12.0)
    names = {role: heading for role, heading in PLAIN.items() if role not in ("water_in", "water_out", "flow")}
    sheet = write_down(course, names, 60.0, np.random.default_rng(14))
    rng = np.random.default_rng(24)
    keep = np.cumsum(rng.integers(5, 13, 60))
    wood, laid, rows, last = sheet.headings["wood"], 0.0, [], -1
    for n in [0, *keep[keep < len(sheet.rows)].tolist()]:
        row = sheet.rows[n]
        laid = sum(float(r.cells[wood] or 0) for r in sheet.rows[last + 1 : n + 1])
        row.cells[wood] = f"{laid:.2f}" if laid else ""
        row.cells[sheet.headings["clock"]] = row.cells[sheet.headings["clock"]][:5]
        for role in ("gas_below", "gas_above", "tank_top", "tank_bottom"):
            row.cells[sheet.headings[role]] = f"{float(row.cells[sheet.headings[role]]):.0f}"
        rows.append(row)
        last = n
    sheet.rows = rows
    sheet.lose(12, 16)
    save_log(FOLDER, "hand-written", sheet, course)


if __name__ == "__main__":
    for write in (clean, mixed_up, worn_probes, hand_written):
        write()
