"""Marking a fault-finding sheet: `diagnosis.py` reads what a trainee takes to be wrong and tries it in the network,
`marks.py` says what it is worth, `words.py` what is said about it.
"""
