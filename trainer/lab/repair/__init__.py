"""Fault finding: a network as found, which is the key's with a few wrong settings, and what is seen of it.

`sheet.py` holds what was drawn, as it is kept with the lab; `slips.py` what people set wrongly; `found.py` the network as
found and its lines; `observing.py` what is seen of a network; `reasoning.py` what can be concluded from it; `cases.py` which
faults can be asked for; `drawing.py` draws.
"""
