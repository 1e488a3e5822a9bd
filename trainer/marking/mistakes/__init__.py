"""The catalogue of mistakes: one file a topic, and catalogue.py, which puts them together and finds the one that fits."""
