"""Words of a picture.

Goes in: SI numbers, whether a case is invented. Comes out: text with a unit, or with that mark.
"""

from __future__ import annotations

from annulus.units.celsius import to_celsius


def mark_invented(words: str, is_invented: bool) -> str:
    """Words of a head, marked where the case is an invented example."""
    return f"{words} (an invented example)" if is_invented else words


def watts(value: float) -> str:
    """Heat flow, to a watt or to three digits."""
    return f"{_figure(value)} W"


def figure_of_watts(value: float) -> str:
    """The same without its unit."""
    return _figure(value)


def celsius(kelvin: float) -> str:
    """Temperature from kelvin, to a tenth below 100 degC, else to a degree."""
    return degrees(to_celsius(kelvin))


def degrees(value: float) -> str:
    """The same from degrees Celsius."""
    return f"{value:.1f} °C" if abs(value) < 100 else f"{value:.0f} °C"


def millimetres(metres: float) -> str:
    """A length as read on a drawing, to a hundredth or to two digits, without unit.

    >>> [millimetres(length) for length in (0.009525, 0.7366, 0.0, 2e-6)]
    ['9.53', '736.6', '0', '0.002']
    """
    value = 1000 * metres
    if abs(value) < 0.1:
        return f"{value:.2g}"
    return f"{round(value + 1e-9, 2):.4g}"  # halves upwards, as catalogues round three eighths of an inch


def share(part: float, whole: float) -> str:
    """A part of a whole in per cent."""
    value = 100 * part / whole if whole else 0.0
    return f"{value:.0f} %" if abs(value) >= 9.5 or value == 0 else f"{value:.1g} %"


def name_turns(first: int, last: int) -> str:
    """Turns by their indices from 0: "turn 3", "turns 3 to 5"."""
    return f"turn {first + 1}" if first == last else f"turns {first + 1} to {last + 1}"


def _figure(value: float) -> str:
    if abs(value) >= 10 or value == round(value):
        return f"{value:.0f}"
    text = f"{value:.1f}" if abs(value) >= 1 else f"{value:.2f}"
    return "0" if float(text) == 0 else text
