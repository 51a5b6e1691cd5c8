"""The squareness core: numpy and the standard library, no device and no screen."""

__version__ = "0.1.0"
# How a record names the program that derived it.
SOFTWARE = f"cornerwise {__version__}"
