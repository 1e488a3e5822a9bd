"""Self-study: what a learner has done, what follows from it for the next day, and the short questions of five minutes.

Everything is worked out by replay from the events of one log (`events.py`, `replay.py`). No grade and no marks: a log can
be forged by whoever wants to, so it never counts. The clock is handed in.
"""
