"""Pictures: a budget, a sampled distribution, replicate titres, a control chart.

They draw on the axes they are given and nothing else.

matplotlib is optional, ``pip install 'assay[plot]'``, and imported only here, when a picture is drawn. No global state
is touched: no figure is made or shown, no style is set. Colours are told apart by their lightness too, and by hatching,
dashes and shapes, so that a picture can be read in grey and without seeing red from green.
"""
