"""roomir: how long does this room ring, and may I trust the number?"""

__version__ = "0.1.0"
