"""
cubital: the working desk of the person who draws blood for a laboratory.

The rooms stand in the order a specimen meets them; ``docs/design.md`` draws the house.
"""

__version__ = "0.1.0"
