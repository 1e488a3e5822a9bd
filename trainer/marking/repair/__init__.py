"""Marking a fault-finding sheet: `diagnosis.py` reads what a trainee takes to be wrong and tries it in the network,
`marks.py` says what it is worth, `words.py` what is said about it.

It builds the network as found + the trainee's edits: what comes back is told, predictions are held against it (R2), and
a repair in other lines is right if the network would earn full marks as a plan (`marker.mark` again). A test separates
if it comes out otherwise once all is mended, and proves a fault if it does while that one alone is left. What is as it
should be, and tests that tell nothing, earn nothing and can only cancel (R9), so that the same words everywhere earn
nothing. Shares 20, 50, 30 and the weights of a fault are the house's.
"""
