"""Pictures and tables of results: reads what other rooms computed, computes no physics itself.

Nothing is imported here, so that a table never loads what only pictures need.
Import the picture that is wanted: `annulus.present.drawing.draw_section`,
`annulus.present.temperature.draw_temperature`, `annulus.present.stripes.draw_stripes`,
`annulus.present.compare.draw_compare`; `annulus.present.style.save` writes one to a file.
"""
