"""The demo shop: an invented bindery by a saltmarsh, loaded through the services alone.

Everything in it is made up: names, papers, prices, customers. Dates hang on the day it is
loaded, so that some orders are always due next week.
"""

from seed_demo.load import load_demo

__all__ = ["load_demo"]
