"""Practise speed around an electronic drum kit and see what breaks first."""

__version__ = "0.1.0"
