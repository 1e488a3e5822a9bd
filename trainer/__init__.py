"""Sets, proves, marks and explains lab exercises for network technicians."""

__version__ = "0.1.0"
