"""Fault finding: a network as found, which is the key's with a few wrong settings, and what is seen of it.

`sheet.py` holds what was drawn, as it is kept with the lab; `slips.py` what people set wrongly; `found.py` the network as
found and its lines; `observing.py` what is seen of a network; `reasoning.py` what can be concluded from it; `cases.py` which
faults can be asked for; `drawing.py` draws.

`slips.py` is the generator beside the catalogue: each `SlipSort` names the mistakes that must recognise it.
`cases.py` looks at the network with every single slip (for several faults with every set of as many whose failures
are those of the found network), and takes faults only if no smaller set shows the same, all explanations that are
left lie in their rows, at least 8 survive the complaint, every fault has a test that shows it, and harmless
deviations change no trial and are wrong all the same (a wider route is right where summary routes are). Where labs may
have no fault, one in eight has none; its key says "none". The class draw holds the sorts and roles of the slips and
how many explanations are left after each sort of symptom (`vector`); a trainee's lab is drawn until it has the
same. About 200 networks of 7 ms each make a lab of two switches, about 1.5 s.

`found.py` prints the network line by line; rows stand in another order and lines begin with another number in every lab, and
nothing depends on which deviation is the fault. `RepairRules.has_tables` says that a sitting is of today: labs that are added to
one from before are drawn as its others were.

To add a slip: a function in `slip_values.py`, a line in `SLIPS` with its mistakes; `tests/lab/test_slips.py` says
if they fit.
"""
