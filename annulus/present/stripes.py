"""Picture of the heat stripes: bands of equal watts over the section, coloured by where they end.

Goes in: a `SteadyHeater` and the `Stripes` of its field. Comes out: a figure in
which watts can be counted, and which says how many of them pass the tubes by.
"""

from __future__ import annotations

from matplotlib.figure import Figure

from annulus.conduction.stripes import Stripes
from annulus.heater.steady import SteadyHeater
from annulus.present.bands import draw_legend, legend_height, legend_rows, paint_bands, say_bypass
from annulus.present.pages import PAGE, lay_page
from annulus.present.paint import number_turns
from annulus.present.sheet import Sheet
from annulus.present.style import TURNS, applied
from annulus.present.words import mark_invented, watts

COLUMN = 2.6  # for the legend [in]
ACROSS_AIR = (
    "Stripes end at surfaces that face air: what air conducts goes on as stripes of its own, what is radiated "
    "as straight dashed lines."
)


def draw_stripes(heater: SteadyHeater, stripes: Stripes, detail: int | str = "middle") -> Figure:
    """Draw the heat stripes of a heater.

    Parameters
    ----------
    heater : SteadyHeater
    stripes : Stripes
        Of the heater's field, with its tubes as sinks.
    detail : int or {"bottom", "middle", "top"}
        Which turns are shown enlarged.

    Returns
    -------
    Figure
    """
    with applied():
        section, full = heater.model.section, stripes.watts
        sheet = Sheet(*PAGE)
        about = f"heat stripes: each full one carries {watts(full)} from where it enters to where it ends"
        sheet.head(heater.case.title, mark_invented(about, heater.case.invented))
        sheet.foot([*say_bypass(section, stripes), *([ACROSS_AIR] if stripes.sight is not None else [])])
        rows = legend_rows(section, stripes)
        needed = legend_height(sheet, rows, COLUMN, stripes)
        page = lay_page(heater, sheet, detail, (COLUMN, needed), lambda turn: TURNS[turn % 2].light)
        for view in page.views:
            paint_bands(view, section, stripes, full, fine=view is page.main)
        number_turns(sheet, page.main, section)
        draw_legend(sheet, page.column, rows, stripes)
        sheet.trim()
        return sheet.figure
