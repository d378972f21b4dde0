"""The components of a sterilizer as data: the least class of work on each, the tests asked after it, its words.

The table is the trade's (common practice, no source), with what public texts quote of ST79 on major repairs; rules
may add tests (`[component."vacuum pump"]` in a rules file). Pure.
"""

from .named import named_in
from .table import Component, components

__all__ = ["Component", "components", "named_in"]
