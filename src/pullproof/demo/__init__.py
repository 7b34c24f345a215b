"""The invented car of the demo: a simulation, its loggers, and a story with a known true effect."""

from pullproof.demo.weekends import DemoFiles, make_demo

__all__ = ["DemoFiles", "make_demo"]
